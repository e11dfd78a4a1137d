"""A plan in which everything that a person can type looks like markup."""

from __future__ import annotations

from dataclasses import replace

from picklist.model.plan import Plan
from tests.documents.findings import rich_plan

NASTY = "</script><b>\"'&amp; <img src=x onerror=alert(1)>"


def nasty_plan() -> Plan:
    """A plan in which everything that a person can type looks like markup."""
    plan = rich_plan()
    carts = tuple(
        replace(
            cart,
            surgeon_name=f"Dr {NASTY}",
            procedure_names=(NASTY,),
            case=replace(cart.case, room=f"{cart.case.room} {NASTY}", number=f"{cart.case.number} {NASTY}"),
        )
        for cart in plan.carts
    )
    clusters = tuple(
        replace(
            cluster,
            conflicts=tuple(
                replace(
                    one,
                    id=f"{one.id} {NASTY}",
                    statement=NASTY,
                    tray=one.tray,
                    waiter=f"{one.waiter} {NASTY}",
                    set_id=f"{one.set_id}{NASTY}",
                )
                for one in cluster.conflicts
            ),
        )
        for cluster in plan.clusters
    )
    trays = tuple(replace(tray, name=f"{tray.name} {NASTY}") for tray in plan.trays)
    return replace(plan, carts=carts, clusters=clusters, trays=trays)

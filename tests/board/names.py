"""A plan in which everything that a person can type looks like markup."""

from __future__ import annotations

from dataclasses import replace

from picklist.documents.plan_json import plan_from_json, plan_to_json
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


def long_names() -> Plan:
    """A plan whose cases and sets have names as long as a hospital's own schedule may write them."""
    plan = rich_plan()
    text = plan_to_json(plan).decode()
    for name in sorted({one.id for one in plan.sets} | {case.number for case in plan.cases}, key=len, reverse=True):
        text = text.replace(name, f"{name}-of-the-north-theatres-2026")
    return plan_from_json(text.encode())

"""The steps by which the state file grew, each applied once and in order; ``user_version`` counts them."""

from __future__ import annotations

from picklist.store.migrations import (
    m001_lists,
    m002_built_carts,
    m003_usage,
    m004_decisions,
    m005_who_was_told,
    m006_who_reported,
    m007_counted,
    m008_forms_taken,
    m009_cards,
    m010_messages,
    m011_serials,
    m012_decisions_kept,
)

MIGRATIONS: tuple[tuple[str, ...], ...] = (
    m001_lists.STATEMENTS,
    m002_built_carts.STATEMENTS,
    m003_usage.STATEMENTS,
    m004_decisions.STATEMENTS,
    m005_who_was_told.STATEMENTS,
    m006_who_reported.STATEMENTS,
    m007_counted.STATEMENTS,
    m008_forms_taken.STATEMENTS,
    m009_cards.STATEMENTS,
    m010_messages.STATEMENTS,
    m011_serials.STATEMENTS,
    m012_decisions_kept.STATEMENTS,
)

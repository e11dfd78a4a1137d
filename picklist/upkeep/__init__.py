"""Preference cards as offices keep them: workbooks out, proposals back, a log of changes."""

from picklist.upkeep.approval import ApprovalResult, apply_approval, catch_up, undo_change
from picklist.upkeep.card_faults import CardFault, FaultKind, describe_faults, find_card_faults
from picklist.upkeep.card_rows import CardRow, open_book, read_card
from picklist.upkeep.change_log import LogEntry, cards_mark, cards_state, describe_entry, known_cards, read_history
from picklist.upkeep.effect import Effect, describe_effect, find_effect, plan_conflicts
from picklist.upkeep.near_cards import (
    describe_near_cards,
    describe_trays_together,
    find_near_cards,
    find_trays_together,
)
from picklist.upkeep.office_book import write_office_workbook
from picklist.upkeep.office_compare import Comparison, compare_return
from picklist.upkeep.office_problems import find_strange
from picklist.upkeep.office_return import OfficeReturn, read_office_workbook
from picklist.upkeep.owners import (
    Owner,
    SeveralOwners,
    UnknownOwner,
    find_owner,
    find_procedure,
    owner_name,
    procedures_of,
)
from picklist.upkeep.proposals import (
    Approval,
    CardChange,
    Proposal,
    approve_proposal,
    describe_proposal,
    drop_proposal,
    keep_proposal,
    waiting_proposals,
)
from picklist.upkeep.replies import (
    OfficeAnswer,
    Request,
    answer_request,
    describe_request,
    read_events,
    read_requests,
    record_requests,
    reject_proposal,
    told_to,
)
from picklist.upkeep.stamps import WorkbookStamp, find_stamp, keep_stamp
from picklist.upkeep.write_back import write_back

__all__ = [
    "Approval",
    "ApprovalResult",
    "CardChange",
    "CardFault",
    "CardRow",
    "Comparison",
    "Effect",
    "FaultKind",
    "LogEntry",
    "OfficeAnswer",
    "OfficeReturn",
    "Owner",
    "Proposal",
    "Request",
    "SeveralOwners",
    "UnknownOwner",
    "WorkbookStamp",
    "answer_request",
    "apply_approval",
    "approve_proposal",
    "cards_mark",
    "cards_state",
    "catch_up",
    "compare_return",
    "describe_effect",
    "describe_entry",
    "describe_faults",
    "describe_near_cards",
    "describe_proposal",
    "describe_request",
    "describe_trays_together",
    "drop_proposal",
    "find_card_faults",
    "find_effect",
    "find_near_cards",
    "find_owner",
    "find_procedure",
    "find_stamp",
    "find_strange",
    "find_trays_together",
    "keep_proposal",
    "keep_stamp",
    "known_cards",
    "open_book",
    "owner_name",
    "plan_conflicts",
    "procedures_of",
    "read_card",
    "read_events",
    "read_history",
    "read_office_workbook",
    "read_requests",
    "record_requests",
    "reject_proposal",
    "told_to",
    "undo_change",
    "waiting_proposals",
    "write_back",
    "write_office_workbook",
]

"""The conflict sheet: what must be decided first stands first, and each late case names what it waits for."""

from __future__ import annotations

from dataclasses import replace

import pypdfium2

from picklist.clock import shift
from picklist.documents.board.view import BoardView
from picklist.documents.missing_characters import LONGEST
from picklist.documents.pages import Sheet, draw
from picklist.documents.views.conflict_lines import knock_on
from picklist.documents.views.conflict_sheet import ConflictBlock, ConflictsView
from picklist.documents.views.evening_sheet import EveningView
from picklist.documents.views.finished_words import as_data
from picklist.documents.views.lookup import Lookup
from picklist.documents.views.open_list import open_list
from picklist.documents.views.stamp import printing_of
from picklist.documents.views.time_strips import time_strip
from picklist.evening.open_points import open_points
from picklist.model.conflict_facts import Binding, Bound, ConflictFacts, Decider, KeptSet, Shortage
from picklist.model.conflicts import BoundSet, Conflict, ConflictKind, Proof
from picklist.model.known import NOTHING_KNOWN
from picklist.model.plan import Plan
from picklist.wording.say_conflicts import bound_lines, proof_opening, statement
from picklist.wording.say_remedies import COMING, STILL_SOUGHT
from tests.board.days import heavy_day, sample_day
from tests.documents.carts import local
from tests.documents.findings import reuse, rich_plan, short_conflict


def plan_with(*conflicts: Conflict) -> Plan:
    plan = rich_plan()
    (group, *_) = plan.clusters
    return replace(plan, clusters=(replace(group, conflicts=conflicts),))


def test_that_the_overview_of_a_heavy_day_lists_every_conflict_by_the_time_of_its_decision() -> None:
    plan = heavy_day()
    view = ConflictsView(Lookup(plan))
    decided = {one.id: one.decide_by for one in plan.conflicts}
    assert len(view.overview) == len(decided) > 40
    clock = plan.settings.site_clock
    assert all(one is not None and clock.day(one) == plan.day for one in decided.values())
    times = [row.decide_by for row in view.overview]
    assert times == sorted(times)
    assert sorted(times) == sorted(clock.hhmm(one) for one in decided.values() if one)


def test_that_the_overview_and_the_details_number_the_conflicts_alike() -> None:
    for plan in (heavy_day(), sample_day(), rich_plan()):
        view = ConflictsView(Lookup(plan))
        details = {
            block.number: (block.kind, block.decide_by or "–", block.remedies[0].text if block.remedies else "")
            for cluster in view.clusters
            for block in cluster.conflicts
        }
        named_above = {block.number for cluster in view.clusters for block in cluster.conflicts if block.above}
        assert {row.number for row in view.overview} == set(details)
        for row in view.overview:
            kind, decide_by, remedy = details[row.number]
            assert (row.kind, row.decide_by) == (kind, decide_by)
            assert row.number in named_above or row.remedy.startswith(remedy or "None found.")


def test_that_a_remedy_of_several_conflicts_of_a_group_stands_once() -> None:
    """C-4120 waits for two trays from the same case: the moves that help one help the other as well."""
    groups = [cluster for cluster in ConflictsView(Lookup(sample_day())).clusters if len(cluster.conflicts) > 1]
    hips = next(cluster for cluster in groups if any("C-4120" in line for line in cluster.cases))
    first, second = hips.conflicts
    texts = [row.text for block in hips.conflicts for row in block.remedies]
    assert len(texts) == len(set(texts))
    assert [row.kind for row in second.remedies] == ["faster handling", "a set brought from elsewhere"]
    moves = [n for n, row in enumerate(first.remedies, start=1) if row.text.startswith(("Start", "Move"))]
    assert (
        second.above == f"Also solved by remedies {', '.join(map(str, moves[:-1]))} and {moves[-1]} of {first.number}."
    )
    assert all("also removes Hip" in first.remedies[n - 1].cost for n in moves)


def test_that_groups_and_the_conflicts_within_them_go_by_their_decisions() -> None:
    view = ConflictsView(Lookup(heavy_day()))
    for cluster in view.clusters:
        times = [block.decide_by for block in cluster.conflicts]
        assert times == sorted(times)
    firsts = [cluster.conflicts[0].decide_by for cluster in view.clusters]
    assert firsts == sorted(firsts)


def test_that_a_decision_whose_time_is_over_is_marked() -> None:
    plan = plan_with(
        replace(short_conflict(), id="K-1", decide_by=shift(rich_plan().now, -1)),
        replace(short_conflict(), id="K-2", decide_by=rich_plan().now),
    )
    assert [row.past for row in ConflictsView(Lookup(plan)).overview] == [True, False]


def test_that_each_set_of_a_proof_has_a_line_however_many_there_are() -> None:
    """A clinic with 30 sets of one tray: the proof in one piece would be too long for a row of paper."""
    sets = tuple(
        BoundSet(
            set_id=f"WRIST-{n:02d}",
            case=f"C-{1100 + n}",
            until=local("12:50"),
            bound=Bound(binding=Binding.CASE, ends=local("09:40")),
        )
        for n in range(30)
    )
    proof = Proof(instant=local("10:45"), overlapping=tuple(one.case for one in sets), sets=sets, lacking=1)
    facts = ConflictFacts(tray="Wrist fracture", needed=local("10:45"), shortage=Shortage())
    conflict = replace(short_conflict(), proof=proof, facts=facts)
    (block,) = ConflictsView(Lookup(plan_with(conflict))).clusters[0].conflicts
    opening = "At 10:45 Wrist fracture is taken or wanted by 31 cases: "
    assert block.proof.startswith(opening)
    assert block.proof.endswith("30 sets fit this case.")
    assert len(block.bound) == 30
    assert block.bound[0] == "WRIST-00: with case C-1100 until 09:40, ready again 12:50 at usual pace."


def test_that_what_the_proof_of_a_heavy_day_says_is_said_whole() -> None:
    plan = heavy_day()
    clock = plan.settings.site_clock
    proofs = [(proof_opening(one, clock), bound_lines(one, clock)) for one in plan.conflicts]
    blocks = [block for cluster in ConflictsView(Lookup(plan)).clusters for block in cluster.conflicts]
    longest = max(proofs, key=lambda proof: len(proof[1]))
    assert len(longest[1]) > 1
    assert longest in [(block.proof, block.bound) for block in blocks]


def test_that_a_case_late_with_another_names_the_set_that_it_waits_for() -> None:
    """C-1047 gets HIPF-01 from C-1041; C-1082 shares nothing with either."""
    found = Lookup(rich_plan())
    one = replace(short_conflict(), waiter="C-1041", knock_on=("C-1047", "C-1082"))
    assert knock_on(found, one) == (
        "If C-1041 starts 2 h 05 min late, C-1047 in OR 3, 14:30 (waits for HIPF-01 from C-1041) "
        "and C-1082 in OR 4, 08:00 are late too.",
    )


def test_that_a_case_late_with_another_names_the_room_where_no_set_ties_them() -> None:
    """Of the sample: C-4124 follows C-4123 in OR 5."""
    found = Lookup(sample_day())
    facts = [fact for cluster in sample_day().clusters for one in cluster.conflicts for fact in knock_on(found, one)]
    assert any("(next in its room)" in fact and fact.startswith("If C-4123 starts 2 h 25 min late") for fact in facts)


def test_that_the_sheet_says_that_the_trays_of_stopped_cases_are_not_counted() -> None:
    assert "Case C-1050 is on hold" in ConflictsView(Lookup(rich_plan())).left_out
    assert ConflictsView(Lookup(sample_day())).left_out == ""


def test_that_a_set_from_a_case_that_runs_already_is_drawn_with_its_way() -> None:
    """The case of the evening before is no use of the plan: of the set that comes from it nothing was drawn."""
    plan = rich_plan()
    giver = next(case for case in (*plan.cases, *(c.case for c in plan.carts)) if case.number == "C-1081")
    way = reuse("WRIST-01", "T-WRIST", giver, next(one for one in plan.cases if one.number == "C-1083"))
    rest = tuple(one for one in plan.assignments if one.use.case != "C-1081")
    one = replace(short_conflict(), kind=ConflictKind.RUSH, proof=None, givers=("C-1081",))
    found = Lookup(replace(plan_with(one), assignments=rest, reuses=(way,)))
    strip = time_strip(found, one)
    assert strip is not None
    bars = {row.name: [(bar.kind, bar.text) for bar in row.bars] for row in strip.rows}
    assert bars["WRIST-01"] == [("use", "C-1081"), ("turnaround", f"ready {found.ready(way)}")]


def test_a_label_that_is_too_long_for_its_bar_stands_below_it_on_paper() -> None:
    """All bars at a tenth of their length, so that hardly a word fits in one."""
    view = ConflictsView(Lookup(rich_plan()))
    blocks = [block for cluster in view.clusters for block in cluster.conflicts]
    bars = [bar for block in blocks if block.strip for row in block.strip.rows for bar in row.bars]
    for bar in bars:
        bar.length /= 10
    said = [bar.text for bar in bars if bar.text]
    made = Sheet(file="c.pdf", template="conflicts", data=as_data(view), made=rich_plan().now)
    pdf = pypdfium2.PdfDocument(draw(made))
    text = " ".join(" ".join(page.get_textpage().get_text_range() for page in pdf).split())
    pdf.close()
    wanted = [one for one in said if one.endswith("needs one")]
    assert len(wanted) >= 3
    assert [one for one in said if one not in text] == []


def test_that_a_statement_about_many_cases_and_sets_stays_short_enough_for_paper() -> None:
    """Of 40 equal cases and 9 sets kept for later the sentence was cut on paper before "A person decides."."""
    many = tuple(f"C-{number}" for number in range(2000, 2040))
    kept = tuple(KeptSet(set_id=f"HIP-{number}", case=case) for number, case in enumerate(many[:9]))
    facts = ConflictFacts(
        tray="Wrist fracture",
        needed=local("10:45"),
        reuse=rich_plan().reuses[0],
        shortage=Shortage(equal=many, kept=kept, decider=Decider.LATE),
    )
    said = statement(replace(short_conflict(), facts=facts), rich_plan().settings.site_clock)
    assert len(said) <= LONGEST
    assert "HIP-2 is ready by then, but kept for case C-2002 and 6 more." in said
    assert "C-2004, C-2005 and 34 more have the same priority." in said
    assert said.endswith("Someone must confirm.")


def test_that_a_case_that_gets_its_set_is_not_drawn_as_one_that_needs_one() -> None:
    """C-4107 gets MAJLAP-04: the reserve alone is short, and "no set is ready" was said with that set in sight."""
    plan = sample_day()
    reserves = [one for one in plan.conflicts if one.kind is ConflictKind.RESERVE]
    assert reserves
    for one in reserves:
        block = ConflictBlock(Lookup(plan), one)
        assert block.strip is not None
        assert [row.name for row in block.strip.rows if row.name.startswith("for ")] == []
        assert "no other set of" in block.proof


def test_that_where_hurrying_does_not_help_the_sheet_says_how_much_is_still_short() -> None:
    """C-4131: 2 h 55 min short if opened, and minutes to save of 57 were listed as if they helped."""
    plan = sample_day()
    (one,) = (one for one in plan.conflicts if one.kind is ConflictKind.CONDITIONAL)
    block = ConflictBlock(Lookup(plan), one)
    assert block.statement.endswith("2 h 55 min short, when hurried still 1 h 58 min.")
    assert [fact for fact in block.facts if "can be saved" in fact] == []


def test_that_a_sheet_without_its_remedies_yet_says_that_they_are_being_sought() -> None:
    """The lists are handed out; nobody may read from the first sheet that nothing helps, or that nothing is at risk."""
    bare = replace(short_conflict(), remedies=(), chance_of_failing=None, missing="", searched="")
    plan = replace(plan_with(bare), chance=None, remedies_sought=False, being_completed=True)
    view = ConflictsView(Lookup(plan))
    assert view.still_sought == STILL_SOUGHT
    [row] = view.overview
    assert row.remedy == "Being sought."
    pages = pypdfium2.PdfDocument(draw(Sheet(file="x", template="conflicts", data=as_data(view), made=plan.now)))
    text = " ".join(" ".join(page.get_textpage().get_text_bounded() for page in pages).split())
    assert STILL_SOUGHT in text
    assert "Remedies are still being sought." in text
    assert "No remedy found" not in text
    open_rows = open_list(Lookup(plan), open_points(plan, NOTHING_KNOWN, plan.now))
    assert "remedies are still being sought" in {row.note for row in open_rows}
    board = BoardView(plan)
    assert [line.remedies for line in board.entries] == ["remedies being sought"]
    assert board.chance_note == "Risks are still being worked out."
    assert view.overview[0].decide_by != "–"
    cover = EveningView(Lookup(plan), lambda _: printing_of(plan))
    for said in (view.still_sought, cover.still_sought, board.counts, COMING):
        assert "the times to decide by can still change" in said
    complete = replace(plan, being_completed=False, remedies_sought=True)
    assert ConflictsView(Lookup(complete)).still_sought == ""
    assert ConflictsView(Lookup(complete)).overview[0].remedy == "None found."

"""Cases of two schedules find each other, or become a question."""

from __future__ import annotations

from typing import Any

from picklist.evening.match import NEAR_START, MatchNote, NoteKind, match_cases, score
from picklist.model.schedule import Case, CaseStatus, Side
from tests.evening.builders import a_case


def knee(number: str, start: str = "07:30", **changes: Any) -> Case:
    return a_case(number, start, **({"surgeon": "S04", "procedures": ("KNEE",)} | changes))


def hip(number: str, start: str = "10:00", **changes: Any) -> Case:
    return a_case(number, start, **({"surgeon": "S09", "procedures": ("HIP",)} | changes))


def test_that_a_case_moved_to_another_room_and_hour_is_the_same_case() -> None:
    match = match_cases([knee("C-1")], [knee("C-1", "15:00", room="OR 9", minutes=120)])
    assert match.same == (("C-1", "C-1"),)
    assert not match.questions


def test_that_a_number_given_to_quite_another_operation_is_two_cases() -> None:
    match = match_cases([knee("C-1")], [hip("C-1", "14:00", room="OR 5")])
    assert (match.same, match.cancelled, match.added) == ((), ("C-1",), ("C-1",))
    assert match.notes == (MatchNote(kind=NoteKind.NUMBER_REUSED, old=("C-1",), new=("C-1",)),)


def test_that_one_number_in_one_slot_with_all_else_changed_is_asked() -> None:
    match = match_cases([knee("C-1")], [hip("C-1", "07:30")])
    (question,) = match.questions
    assert question.new_case == "C-1"
    assert question.candidates[0].differs == ("surgeon", "procedures")
    assert match.asked_old == ("C-1",)
    assert (match.same, match.cancelled, match.added) == ((), (), ())


def test_that_a_renumbered_case_in_its_slot_is_the_same_case() -> None:
    match = match_cases([knee("C-1"), hip("C-2")], [knee("K-77"), hip("C-2")])
    assert match.same == (("C-1", "K-77"), ("C-2", "C-2"))
    assert match.notes == (MatchNote(kind=NoteKind.RENUMBERED, old=("C-1",), new=("K-77",)),)


def test_that_the_same_operation_under_a_new_number_at_another_hour_is_asked() -> None:
    """The same surgeon may do one knee less and another more: that is not known."""
    match = match_cases([knee("C-1")], [knee("C-8", "13:00")])
    assert [q.new_case for q in match.questions] == ["C-8"]
    assert match.cancelled == ()


def test_that_answers_settle_a_question_either_way() -> None:
    old, new = [knee("C-1")], [knee("C-8", "13:00")]
    same = match_cases(old, new, {"C-8": "C-1"})
    assert same.same == (("C-1", "C-8"),)
    other = match_cases(old, new, {"C-8": ""})
    assert (other.cancelled, other.added, other.questions) == (("C-1",), ("C-8",), ())


def test_that_an_answer_which_names_no_case_is_a_problem_and_settles_nothing() -> None:
    match = match_cases([knee("C-1")], [knee("C-8", "13:00")], {"C-8": "C-99", "C-7": "C-1"})
    assert [(p.kind, p.value) for p in match.problems] == [
        ("unfit answer", "C-7=C-1"),
        ("unfit answer", "C-8=C-99"),
    ]
    assert len(match.questions) == 1


def test_that_two_answers_cannot_take_one_old_case() -> None:
    match = match_cases([knee("C-1")], [knee("C-8"), knee("C-9", "13:00")], {"C-8": "C-1", "C-9": "C-1"})
    assert match.same == (("C-1", "C-8"),)
    (problem,) = match.problems
    assert problem.value == "C-9=C-1"
    assert problem.message == "the answer that C-9 is C-1 gives one old case to two new ones; it was ignored"


def test_that_an_answer_to_a_standing_question_names_one_of_its_cases() -> None:
    """The question was about C-1 or C-2; whoever answers C-5 is told which two were meant, and it stays open."""
    asked = match_cases([knee("C-2"), knee("C-1", "08:00")], [knee("C-8", "13:00")]).questions
    match = match_cases([knee("C-8", "13:00")], [knee("C-8", "13:00")], {"C-8": "C-5"}, asked)
    (problem,) = match.problems
    assert (problem.value, problem.nearest) == ("C-8=C-5", ("C-1", "C-2"))
    assert problem.message == "the answer that C-8 is C-5 does not fit the open question; it was ignored"
    assert [q.new_case for q in match.questions] == ["C-8"]


def test_that_an_unfit_answer_says_what_is_nearest() -> None:
    match = match_cases(
        [knee("C-41"), hip("C-52")], [knee("C-41"), hip("C-99", "14:00")], {"C-9": "C-52", "C-99": "C-25"}
    )
    assert [(p.value, p.nearest) for p in match.problems] == [("C-9=C-52", ("C-99",)), ("C-99=C-25", ("C-52",))]


def test_that_an_answer_given_again_after_it_was_carried_out_says_that_the_cart_goes_on() -> None:
    match = match_cases([knee("C-8")], [knee("C-8")], {"C-8": "C-1"})
    assert match.same == (("C-8", "C-8"),)
    (problem,) = match.problems
    assert "C-8 goes on with its own" in problem.message
    assert problem.nearest == ()


def test_that_an_answer_does_not_part_two_cases_that_are_plainly_still_there() -> None:
    both = [knee("C-1"), hip("C-2")]
    match = match_cases(both, both, {"C-1": "C-2"})
    assert match.same == (("C-1", "C-1"), ("C-2", "C-2"))
    assert [p.value for p in match.problems] == ["C-1=C-2"]


def test_that_an_answer_may_say_that_a_number_stands_for_another_case_now() -> None:
    match = match_cases([knee("C-1")], [knee("C-1", "11:00"), knee("C-8")], {"C-8": "C-1", "C-1": ""})
    assert (match.same, match.added, match.problems) == ((("C-1", "C-8"),), ("C-1",), ())


def test_that_a_surgeons_row_of_equal_operations_that_slides_by_half_an_hour_keeps_its_numbers() -> None:
    starts = ("08:00", "08:30", "09:00", "09:30", "10:00", "10:30")
    old = [knee(f"C-{n}", s, minutes=30) for n, s in enumerate(starts[:5])]
    new = [knee(f"C-{n}", s, minutes=30) for n, s in enumerate(starts[1:])]
    match = match_cases(old, new)
    assert match.same == tuple((f"C-{n}", f"C-{n}") for n in range(5))


def test_that_a_row_of_equal_operations_renumbered_and_slid_is_asked_not_guessed() -> None:
    old = [knee(f"C-{n}", s) for n, s in enumerate(("08:00", "09:30", "11:00"))]
    new = [knee(f"D-{n}", s) for n, s in enumerate(("08:20", "09:50", "11:20"))]
    match = match_cases(old, new)
    assert match.same == ()
    assert len(match.questions) == 3


def test_that_a_renamed_room_is_noticed_and_disturbs_no_match() -> None:
    old = [knee("C-1"), hip("C-2")]
    new = [knee("C-1", room="Theater A"), hip("C-2", room="Theater A")]
    match = match_cases(old, new)
    assert len(match.same) == 2
    assert match.notes == (MatchNote(kind=NoteKind.ROOM_RENAMED, old=("OR 1",), new=("Theater A",)),)


def test_that_two_cases_which_merely_move_rooms_are_no_renaming() -> None:
    stays = a_case("C-3", "12:00", room="OR 2")
    match = match_cases([knee("C-1"), hip("C-2"), stays], [knee("C-1", room="OR 2"), hip("C-2", room="OR 2"), stays])
    assert match.notes == ()


def test_that_a_split_case_says_which_new_case_took_its_second_half() -> None:
    both = knee("C-1", procedures=("KNEE", "SCOPE"))
    match = match_cases([both], [knee("C-1"), knee("C-6", "09:30", procedures=("SCOPE",))])
    assert match.same == (("C-1", "C-1"),)
    assert match.added == ("C-6",)
    assert match.notes == (MatchNote(kind=NoteKind.SPLIT, old=("C-1",), new=("C-1", "C-6")),)


def test_that_joined_cases_say_which_old_case_went_into_which() -> None:
    both = knee("C-1", procedures=("KNEE", "SCOPE"))
    match = match_cases([knee("C-1"), knee("C-6", "09:30", procedures=("SCOPE",))], [both])
    assert match.cancelled == ("C-6",)
    assert match.notes == (MatchNote(kind=NoteKind.JOINED, old=("C-1", "C-6"), new=("C-1",)),)


def test_that_left_and_right_under_a_new_number_are_not_taken_for_one_case() -> None:
    match = match_cases([knee("C-1", side=Side.LEFT)], [knee("C-8", side=Side.RIGHT)])
    assert match.same == ()
    assert match.questions[0].candidates[0].differs == ("number", "side")


def test_that_a_case_marked_cancelled_counts_as_gone() -> None:
    match = match_cases([knee("C-1")], [knee("C-1", status=CaseStatus.CANCELLED)])
    assert match.cancelled == ("C-1",)


def test_that_every_case_is_matched_cancelled_added_or_asked_exactly_once() -> None:
    old = [knee("C-1"), knee("C-2", "09:30"), hip("C-3"), a_case("C-4", "16:00")]
    new = [knee("C-2", "09:40"), knee("N-1", "08:00"), hip("C-1", "10:00"), a_case("X-1", "12:00")]
    match = match_cases(old, new)
    olds = [o for o, _ in match.same] + list(match.cancelled) + list(match.asked_old)
    news = [n for _, n in match.same] + list(match.added) + [q.new_case for q in match.questions]
    assert sorted(olds) == ["C-1", "C-2", "C-3", "C-4"]
    assert sorted(news) == ["C-1", "C-2", "N-1", "X-1"]


def test_that_a_start_within_the_hour_is_alike_and_a_minute_more_is_not() -> None:
    """07:30 against 08:30 and 08:31: the same minutes make two points more."""
    within, beyond = (score(knee("C-1"), knee("C-2", start)) for start in ("08:30", "08:31"))
    assert within - beyond == NEAR_START

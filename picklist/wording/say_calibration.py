"""How well the risk figures came true, in words: a verdict first, then a table of forecasts and what happened."""

from __future__ import annotations

from picklist.model.calibration import Agreement, Calibration, ForecastBin, TimeOrder
from picklist.wording.quantities import counted, listed, per_cent

HEADS = ("forecast", "how many", "mean forecast", "happened", "share", "true share, at 95 %", "")
NOT_JUDGED = "Only cases are judged: when the sets of past cases were ready again is recorded nowhere."


def calibration_lines(found: Calibration) -> tuple[str, ...]:
    """What was judged, how, and how it came out; a sentence or two a line."""
    if found.too_few:
        return (
            f"Too few past cases to judge the risk figures by: {found.fitted} can be used, {found.needed} are needed.",
            "Nothing is said of how well they come true. The sheet 'Past cases' takes one row for each finished case.",
            *_left_out(found),
        )
    return (
        _verdict(found),
        _brier(found),
        *_margins(found),
        _how(found),
        *_order(found),
        *_left_out(found),
        NOT_JUDGED,
    )


def bin_rows(found: Calibration) -> tuple[tuple[str, ...], ...]:
    """The forecasts in rows, as ``HEADS`` names the columns."""
    return tuple(
        (
            bin_name(one),
            f"{one.forecasts:,}",
            tenths(one.forecast),
            f"{one.happened:,}",
            tenths(one.share),
            f"{per_cent(one.lowest)} to {per_cent(one.highest)}",
            _agreement(one),
        )
        for one in found.bins
    )


def calibration_table(found: Calibration) -> tuple[str, ...]:
    """The rows as lines of a terminal, under their heads; none where nothing was judged."""
    if found.too_few:
        return ()
    rows = (HEADS, *bin_rows(found))
    wide = [max(len(row[place]) for row in rows) for place in range(len(HEADS))]
    lines = ("  ".join(_placed(cell, wide[n], n) for n, cell in enumerate(row)).rstrip() for row in rows)
    return ("", *lines, "")


def _placed(cell: str, wide: int, place: int) -> str:
    return cell.ljust(wide) if place in (0, len(HEADS) - 1) else cell.rjust(wide)


def tenths(share: float) -> str:
    """A share in per cent with one place: ``0.4 %``, since forecasts near never and always matter most."""
    return f"{100 * share:.1f} %"


def bin_name(one: ForecastBin) -> str:
    """``under 1 %``, ``10 to 20 %``, ``99 % and over``."""
    if one.low == 0:
        return f"under {100 * one.high:.0f} %"
    return f"{100 * one.low:.0f} % and over" if one.high == 1 else f"{100 * one.low:.0f} to {100 * one.high:.0f} %"


def _agreement(one: ForecastBin) -> str:
    if one.agreement in (Agreement.MORE_OFTEN, Agreement.LESS_OFTEN):
        return f"{one.agreement} than forecast"
    return one.agreement.value


def _verdict(found: Calibration) -> str:
    """Which rows came true as often as forecast, and which did not."""
    told = [one for one in found.bins if one.agreement is not Agreement.TOO_FEW]
    off = [one for one in told if one.agreement is not Agreement.AS_FORECAST]
    rows = f"{counted(len(told), 'row')} with enough cases to tell"
    if not told:
        return "No row of the table has enough cases to tell whether the risk figures come true."
    if not off:
        return f"The risk figures come true: in all {rows}, it happened as often as was forecast."
    more = [bin_name(one) for one in off if one.agreement is Agreement.MORE_OFTEN]
    less = [bin_name(one) for one in off if one.agreement is Agreement.LESS_OFTEN]
    parts = [
        *([f"what was forecast with {listed(more)} happened more often"] if more else []),
        *([f"what was forecast with {listed(less)} happened less often"] if less else []),
    ]
    hint = " One row in twenty does so by chance alone." if len(off) == 1 else ""
    return f"Of {rows}, {len(off)} did not come true as forecast: {' and '.join(parts)}.{hint}"


def _brier(found: Calibration) -> str:
    skill = found.skill
    how = f"{per_cent(abs(skill))} {'better' if skill > 0 else 'worse'} than" if round(skill, 3) else "no better than"
    return (
        f"Brier score {found.brier:.3f} (0 is perfect): {how} always naming the share of the earlier cases, "
        f"which scores {found.brier_base:.3f}."
    )


def _margins(found: Calibration) -> tuple[str, ...]:
    return tuple(
        f"{f'Ends more than {one.margin} min late' if one.margin else 'Ends late at all'}: forecast "
        f"{per_cent(one.forecast)} on average, happened in {one.happened} of {one.cases} "
        f"({per_cent(one.happened / one.cases)}); of the earlier cases {per_cent(one.base)}."
        for one in found.margins
    )


def _how(found: Calibration) -> str:
    margins = listed([str(one.margin) for one in found.margins])
    return (
        f"How: the spread of minutes and late starts was taken from the {found.fitted:,} earlier past cases. For "
        f"each of the {found.judged:,} later ones its day was drawn {found.draws:,} times (seed {found.seed}), to "
        f"forecast whether it ends more than {margins} min after its planned end. "
        "Cases of one room and day are late together: they count as one for how sure the true share is."
    )


def _order(found: Calibration) -> tuple[str, ...]:
    if found.order is TimeOrder.ROW:
        return (
            "The past cases have no planned start (or too few have): the order of the rows is taken as the order of "
            "time, and a case is judged by its minutes alone, without late starts and rooms.",
        )
    alone = found.judged - found.followed
    if not alone:
        return ()
    return (f"Without a room or an actual start, {counted(alone, 'later case')} are judged by their minutes alone.",)


def _left_out(found: Calibration) -> tuple[str, ...]:
    if not found.left_out:
        return ()
    return (f"Left out, as they have no planned start: {counted(found.left_out, 'past case')}.",)

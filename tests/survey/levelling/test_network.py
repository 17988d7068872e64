"""Networks: exact recovery, standard errors, the worst reading, and what is refused."""

from __future__ import annotations

import numpy as np
import pytest

from gradework.errors import InputError
from gradework.fieldnotes.levels import LevelNotes, LevelRow
from gradework.survey.levelling.heights import book_heights
from gradework.survey.levelling.network import INSTRUMENT, Rise, adjust_network
from gradework.survey.levelling.reduce import reduce_levels
from gradework.survey.levelling.setups import split_setups


def web(rng, count=8, extra=10):
    """True elevations of points P0.. and error-free rises that join all of them with ``extra`` to spare."""
    truth = {f"P{i}": float(v) for i, v in enumerate(rng.normal(100, 3, count))}
    pairs = [(i, i + 1) for i in range(count - 1)]
    pairs += [tuple(rng.choice(count, 2, replace=False)) for _ in range(extra)]
    return truth, [Rise(f"P{a}", f"P{b}", truth[f"P{b}"] - truth[f"P{a}"], 0.002) for a, b in pairs]


@pytest.mark.parametrize("seed", range(5))
def test_perfect_rises_give_the_truth(seed):
    truth, rises = web(np.random.default_rng(seed))
    net = adjust_network(rises, {"P0": truth["P0"]}, scale=False)
    assert net.elevation == pytest.approx([truth[n] for n in net.names], abs=1e-9)
    assert net.residuals == pytest.approx(0, abs=1e-9)


def test_it_agrees_with_plain_dense_least_squares():
    rng = np.random.default_rng(3)
    truth, rises = web(rng)
    rises = [Rise(r.start, r.end, r.rise + rng.normal(0, 0.002), rng.uniform(0.001, 0.004)) for r in rises]
    net = adjust_network(rises, {"P0": truth["P0"]}, scale=False)
    a = np.zeros((len(rises), len(net.names) + 1))
    order = ["P0", *net.names]
    for i, r in enumerate(rises):
        a[i, order.index(r.end)] += 1 / r.sd
        a[i, order.index(r.start)] -= 1 / r.sd
    y = np.array([r.rise / r.sd for r in rises]) - a[:, 0] * truth["P0"]
    expected, *_ = np.linalg.lstsq(a[:, 1:], y, rcond=None)
    assert net.elevation == pytest.approx(expected, abs=1e-9)
    assert net.sd == pytest.approx(np.sqrt(np.diag(np.linalg.inv(a[:, 1:].T @ a[:, 1:]))), rel=1e-6)


def test_standard_errors_and_reference_variance_hold_over_many_draws():
    rng = np.random.default_rng(11)
    truth, rises = web(rng)
    draws, squares, variances = 300, [], []
    for _ in range(draws):
        noisy = [Rise(r.start, r.end, r.rise + rng.normal(0, r.sd), r.sd) for r in rises]
        net = adjust_network(noisy, {"P0": truth["P0"]}, scale=False)
        squares.append(((net.elevation - [truth[n] for n in net.names]) / net.sd) ** 2)
        variances.append(net.reference_variance)
    assert np.mean(squares, axis=0) == pytest.approx(1, abs=4 * np.sqrt(2 / draws))
    assert np.mean(variances) == pytest.approx(1, abs=4 * np.sqrt(2 / net.surplus / draws))


def test_the_worst_reading_is_the_planted_one():
    truth, rises = web(np.random.default_rng(5), extra=14)
    rises[9] = Rise(rises[9].start, rises[9].end, rises[9].rise + 0.3048, 0.002, line=12)
    net = adjust_network(rises, {"P0": truth["P0"]})
    assert net.worst == rises[9]


def test_a_rise_that_nothing_checks_is_never_the_worst():
    rises = [Rise("A", "B", 1.0, 0.01), Rise("A", "B", 1.1, 0.01), Rise("B", "C", 5.0, 0.01)]
    net = adjust_network(rises, {"A": 0.0})
    assert net.standardised[2] == 0
    assert net.worst in rises[:2]


def test_a_level_book_as_a_network_agrees_with_equal_shares():
    rows = (
        LevelRow("BM", backsight=1.5, known=10.0, line=2),
        LevelRow("A", intermediate=1.1, line=3),
        LevelRow("T", backsight=1.2, foresight=1.0, line=4),
        LevelRow("BM", foresight=1.703, line=5),
    )
    notes = LevelNotes(rows)
    rises = [
        Rise(rows[x.row].station, f"{INSTRUMENT}{s.number}", x.reading, 0.001)
        for s in split_setups(notes)
        for x in (s.back, *s.forward)
    ]
    net = adjust_network(rises, {"BM": 10.0}, scale=False)
    points = {
        n: (e, s) for n, e, s in zip(net.names, net.elevation, net.sd, strict=True) if INSTRUMENT not in n
    }
    book = reduce_levels(notes, reading_sd=0.001)
    assert points["T"] == pytest.approx((book.lines[2].elevation, book.lines[2].sd))
    # An intermediate sight hangs on the instrument, which least squares moves by a quarter of the miss,
    # where equal shares give it the correction of the set-up's end: half. So they differ by that much.
    assert points["A"][0] - book.lines[1].elevation == pytest.approx(
        -book.misclosure / 4 + book.misclosure / 2
    )


@pytest.mark.parametrize(
    ("rises", "known", "code"),
    [
        ([Rise("A", "B", float("nan"), 0.1)], {"A": 0.0}, "network-rise-unusable"),
        ([Rise("A", "B", 1.0, 0.0)], {"A": 0.0}, "network-rise-unusable"),
        ([Rise("A", "A", 1.0, 0.1), Rise("A", "B", 1.0, 0.1)], {"A": 0.0}, "network-rise-unusable"),
        ([Rise("A", "B", 1.0, 0.1), Rise("C", "D", 1.0, 0.1)], {"A": 0.0}, "network-unjoined"),
        ([Rise("A", "B", 1.0, 0.1)], {}, "network-unjoined"),
        ([], {"A": 0.0}, "network-size"),
        ([Rise("A", "B", 1.0, 0.1)], {"A": 0.0, "B": 1.0}, "network-size"),
    ],
)
def test_what_cannot_be_adjusted_is_refused(rises, known, code):
    with pytest.raises(InputError) as caught:
        adjust_network(rises, known)
    assert code in [f.code for f in caught.value.faults]


def several_routes(rng, sd=0.0, *, spoil=0.0):
    """A book over two known marks, a stump from three set-ups and shots between; its true elevations."""
    truth = {"M1": 30.0, "M2": 31.2, "stump": 30.6, "rock": 30.9, "A": 30.4, "B": 31.0, "C": 30.2}
    walks = (
        ("M1", "A", "stump"),
        ("stump", "B", "M2"),
        ("M2", "rock", "stump"),
        ("M1", "C", "rock", "stump"),
    )
    rows = []
    for names in walks:
        height = truth[names[0]] + 1.4
        for i, name in enumerate(names):
            reading = height - truth[name] + float(rng.normal(0, sd)) if sd else height - truth[name]
            kind = "backsight" if i == 0 else "foresight" if i == len(names) - 1 else "intermediate"
            known = truth[name] if name.startswith("M") else None
            rows.append(LevelRow(name, known=known, line=len(rows) + 2, **{kind: reading}))
    if spoil:
        at = next(i for i, r in enumerate(rows) if r.station == "rock")
        rows[at] = LevelRow("rock", intermediate=rows[at].intermediate + spoil, line=rows[at].line)
    return LevelNotes(tuple(rows), "book.csv", "m"), truth


def test_a_book_of_several_routes_is_adjusted_at_once_and_comes_back_exactly():
    notes, truth = several_routes(np.random.default_rng(1))
    book = reduce_levels(notes)
    assert book.shared == "network"
    assert book.network.surplus == 4  # 13 readings, less 4 instruments and 5 points
    assert [x.elevation for x in book.lines] == pytest.approx([truth[x.row.station] for x in book.lines])
    heights = book_heights(book)
    assert len(set(heights.names)) == len(heights.names) == len(truth)


def test_the_standard_errors_of_several_routes_hold_over_many_draws():
    rng, squares, sound = np.random.default_rng(4), [], 0
    for _ in range(200):
        notes, truth = several_routes(rng, 0.001)
        book = reduce_levels(notes, reading_sd=0.001)
        sound += book.network.sound
        if book.shared == "network":
            heights = book_heights(book)
            free = heights.sd > 0
            off = heights.elevation - [truth[n] for n in heights.names]
            squares.append((off[free] / heights.sd[free]) ** 2)
    assert sound >= 194  # one sound book in a hundred is called off, by design
    assert np.mean(squares, axis=0) == pytest.approx(1, abs=4 * np.sqrt(2 / 200))


def test_a_reading_that_contradicts_the_routes_is_named_and_nothing_adjusted():
    notes, _ = several_routes(np.random.default_rng(2), 0.001, spoil=0.1)
    book = reduce_levels(notes, reading_sd=0.001)
    assert book.shared == "no"
    (told,) = (f for f in book.findings if f.code == "routes-disagree")
    assert told.where.startswith("rock, line")
    assert all((x.elevation - x.raw) == 0 for x in book.lines)


def test_a_single_line_keeps_the_rule_of_the_book():
    rows = [
        LevelRow("BM", backsight=1.5, known=30.0, line=2),
        LevelRow("A", intermediate=1.2, line=3),
        LevelRow("TP", foresight=1.1, backsight=1.3, line=4),
        LevelRow("BM", foresight=1.698, line=5),
    ]
    book = reduce_levels(LevelNotes(tuple(rows)))
    assert book.network is None
    assert book.shared == "setups"
    # one repeat of the mark within a set-up is no second route
    again = [*rows[:2], LevelRow("A", intermediate=1.201, line=3), *rows[2:]]
    assert reduce_levels(LevelNotes(tuple(again))).network is None


def test_longer_sights_count_less_where_the_sharing_is_by_distance():
    def book(share):
        rows = [
            LevelRow("M1", backsight=1.0, known=30.0, distance=10.0, line=2),
            LevelRow("P", foresight=1.000, distance=10.0, line=3),
            LevelRow("M2", backsight=1.0, known=30.0, distance=90.0, line=4),
            LevelRow("P", foresight=1.004, distance=90.0, line=5),
        ]
        return reduce_levels(LevelNotes(tuple(rows)), share=share, reading_sd=0.002)

    assert book("setups").lines[1].elevation == pytest.approx(29.998)
    assert book("distance").lines[1].elevation == pytest.approx(30 - 0.004 * 0.1)


@pytest.mark.parametrize("count", [100, 300])
def test_the_inverse_by_columns_is_the_whole_inverse(count):
    """Standard errors and standardised residuals as the full cofactor matrix gives them, over many blocks."""
    rng = np.random.default_rng(count)
    truth, rises = web(rng, count, count)
    rises = [Rise(r.start, r.end, r.rise + rng.normal(0, 0.002), rng.uniform(0.001, 0.004)) for r in rises]
    rises = [r for r in rises if r.start != r.end]
    net = adjust_network(rises, {"P0": truth["P0"]}, scale=False)
    column = {name: k for k, name in enumerate(net.names)}
    a = np.zeros((len(rises), count - 1))
    for i, r in enumerate(rises):
        for name, sign in ((r.start, -1.0), (r.end, 1.0)):
            if name in column:
                a[i, column[name]] = sign / r.sd
    q = np.linalg.inv(a.T @ a)
    assert net.sd == pytest.approx(np.sqrt(np.diag(q)), rel=1e-10)
    redundancy = 1 - np.einsum("ij,jk,ik->i", a, q, a, optimize=True)
    sd = np.array([r.sd for r in rises])
    checked = redundancy > 1e-9
    expected = np.where(checked, net.residuals / sd / np.sqrt(np.where(checked, redundancy, 1)), 0)
    assert net.standardised == pytest.approx(expected, rel=1e-6, abs=1e-9)

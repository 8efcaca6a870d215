"""Go-around pairs: exact tests against published and counted values, entries by energy, and what a list becomes."""

import itertools
import math
import re
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from tests.airplane.own_words import FT2, KT, LB, G
from tests.airplane.quillback import QUILLBACK, quillback
from tests.estimate.invented import beliefs as study_beliefs
from tests.estimate.invented import small_study
from wringout.airplane import vector as v
from wringout.errors import BadInputError
from wringout.estimate.fit import fit
from wringout.estimate.problem import StudyRun
from wringout.methods.go_around_pairs.by_hand import compare, hand_results
from wringout.methods.go_around_pairs.entry import EntryModel, corrections, energy_model, excess_power_slope
from wringout.methods.go_around_pairs.method import GoAroundPairs
from wringout.methods.go_around_pairs.pair_tests import (
    fewest_pairs,
    paired_t,
    pairs_needed,
    sign_flip_interval,
    sign_flip_p,
    smallest_p,
    two_sample_p,
)
from wringout.methods.go_around_pairs.run import GoAroundRun
from wringout.methods.register import method
from wringout.methods.types import HandResult
from wringout.recordings.reader import read_recording

METHOD = GoAroundPairs()
BELIEFS = quillback()
FT = 0.3048
FPM = FT / 60.0
# Heights of crossed and self-fertilised plants, 15 pairs, in 1/8 in (data from memory).
PLANTS = np.array([49, -67, 8, 16, 6, 23, 28, 41, 14, 29, 56, 24, 75, 60, -48], dtype=float)
FEW = st.lists(st.integers(-40, 40), min_size=1, max_size=9).map(lambda values: np.array(values, dtype=float))


def test_a_textbook_example_counted_exactly() -> None:
    # R. A. Fisher, The Design of Experiments (1935): 863 of 32,768 sign patterns in each tail; t = 2.148, p = 0.0497.
    assert sign_flip_p(PLANTS) == pytest.approx(0.0526733398438, abs=1e-9)
    assert sign_flip_p(-PLANTS) == pytest.approx(2 * 863 / 32768, abs=1e-12)
    t = paired_t(PLANTS)
    assert t.t == pytest.approx(2.148, abs=5e-4)
    assert t.p == pytest.approx(0.0497, abs=5e-5)
    assert t.dof == 14


def test_the_library_counts_the_same() -> None:
    # An independent implementation: scipy.stats.permutation_test with all 2^15 resamples.
    other = stats.permutation_test((PLANTS,), np.mean, permutation_type="samples", n_resamples=np.inf)
    assert sign_flip_p(PLANTS) == pytest.approx(other.pvalue, abs=1e-12)


@given(FEW)
def test_any_differences_counted_one_by_one(d: np.ndarray) -> None:
    sums = [
        abs(sum(s * x for s, x in zip(signs, d, strict=True))) for signs in itertools.product((1, -1), repeat=d.size)
    ]
    assert sign_flip_p(d) == pytest.approx(np.mean(np.array(sums) >= abs(d.sum())), abs=1e-12)


@given(FEW)
def test_ends_of_the_interval_are_means_of_subsets(d: np.ndarray) -> None:
    # Hartigan's typical values: with 2^n - 1 subset means in order, the ends are the k-th from either side.
    means = sorted(
        float(np.mean(subset)) for size in range(1, d.size + 1) for subset in itertools.combinations(d, size)
    )
    k = math.floor(0.025 * 2**d.size + 1e-9)
    low, high = sign_flip_interval(d)
    if k < 1:
        assert (low, high) == (-math.inf, math.inf)
    else:
        assert (low, high) == pytest.approx((means[k - 1], means[-k]), abs=1e-7)


def test_the_interval_is_the_test_turned_round() -> None:
    low, high = sign_flip_interval(PLANTS)
    for inside in (low + 0.01, 0.5 * (low + high), high - 0.01):
        assert sign_flip_p(PLANTS - inside) > 0.05
    for outside in (low - 0.01, high + 0.01):
        assert sign_flip_p(PLANTS - outside) <= 0.05
    # p is just over 0.05 for no difference at all, so zero is just inside.
    assert -1.0 < low < 0.0


def test_many_pairs_are_counted_as_few_are_listed() -> None:
    d = np.random.default_rng(7).normal(5.0, 20.0, 18)
    sums, sizes = np.zeros(1), np.zeros(1)
    for value in d:
        sums, sizes = np.concatenate([sums, sums + value]), np.concatenate([sizes, sizes + 1.0])
    means = np.sort(sums[1:] / sizes[1:])
    k = math.floor(0.025 * 2**18)
    assert sign_flip_interval(d) == pytest.approx((means[k - 1], means[-k]), abs=1e-7)


def test_the_interval_of_six_pairs_is_their_range() -> None:
    d = np.array([3.0, -1.0, 5.0, 8.0, 2.0, 4.0])
    assert sign_flip_interval(d) == pytest.approx((-1.0, 8.0))


@pytest.mark.parametrize(("pairs", "p"), [(3, 0.25), (5, 0.0625), (6, 0.03125)])
def test_the_smallest_p_there_can_be(pairs: int, p: float) -> None:
    # 2 / 2^n.
    assert smallest_p(pairs) == pytest.approx(p, abs=1e-12)
    assert sign_flip_p(np.arange(1.0, pairs + 1.0)) == pytest.approx(p, abs=1e-12)
    assert (fewest_pairs() <= pairs) == (p <= 0.05)


def test_fewest_pairs_for_other_levels() -> None:
    assert [fewest_pairs(level) for level in (0.25, 0.05, 0.01, 2 / 2**12)] == [3, 6, 8, 12]


def test_two_groups_that_were_not_paired() -> None:
    # Synthetic: 4 against 4, complete separation, 2 / C(8,4).
    first, second = np.array([0.52, 0.55, 0.57, 0.6]), np.array([0.7, 0.74, 0.75, 0.79])
    p = two_sample_p(first, second, np.random.default_rng(1))
    assert p == pytest.approx(0.0285714285714, abs=1e-9)


def test_exact_tests_keep_their_level_and_intervals_their_coverage() -> None:
    rng = np.random.default_rng(4)
    rejected = covered = 0
    repeats = 1500
    for _ in range(repeats):
        d = 10.0 + 30.0 * rng.standard_t(4, 8)  # heavy tails; the test needs no bell curve
        rejected += sign_flip_p(d - 10.0) <= 0.05
        low, high = sign_flip_interval(d)
        covered += low <= 10.0 <= high
    # Of 8 pairs the level reached is 2 x 6/256 = 0.0469: 70 rejections, standard deviation 8.2.
    assert 42 <= rejected <= 99
    assert covered == repeats - rejected


@pytest.mark.parametrize(
    ("effect", "pairs"),
    [(0.5, 34), (0.8, 15), (1.0, 10)],
)
def test_pairs_needed_for_a_difference(effect: float, pairs: int) -> None:
    # Sample sizes of the paired t test at 5 %, two-sided, power 80 % (tables after J. Cohen, 1988; from memory).
    assert pairs_needed(effect * 40.0, 40.0) == pairs


def test_pairs_needed_by_flying_them() -> None:
    n = pairs_needed(50.0, 45.0)
    rng = np.random.default_rng(2)
    d = rng.normal(50.0, 45.0, (20_000, n))
    t = d.mean(axis=1) / (d.std(axis=1, ddof=1) / math.sqrt(n))
    power = float(np.mean(np.abs(t) > stats.t.ppf(0.975, n - 1)))
    assert 0.79 < power < 0.90
    assert pairs_needed(1.0e4, 45.0) == 6  # the exact test needs six whatever the difference
    assert pairs_needed(1000.0, 0.0) == 6


@pytest.mark.parametrize(
    ("call", "said"),
    [
        (lambda: pairs_needed(0.0, 1.0), "a difference of zero"),
        (lambda: pairs_needed(0.001, 1.0), "more than 10,000 pairs"),
        (lambda: sign_flip_p(np.zeros(0)), "a pair has no difference"),
        (lambda: sign_flip_p(np.array([1.0, np.nan])), "a pair has no difference"),
        (lambda: sign_flip_p(np.ones(41)), "41 pairs are more than can be counted"),
        (lambda: paired_t(np.ones(1)), "one pair has no scatter"),
    ],
)
def test_what_cannot_be_tested(call, said: str) -> None:
    with pytest.raises(BadInputError) as caught:
        call()
    assert said in caught.value.what


def test_differences_that_are_all_alike() -> None:
    assert sign_flip_p(np.zeros(5)) == 1.0
    assert paired_t(np.zeros(5)).p == 1.0
    assert paired_t(np.full(5, 3.0)).p == 0.0


HEADER = "# altitude: 4000 ft\n# weight: 2900 lb\n# matters: 30 ft, 2 s\n"
COLUMNS = (
    "pair, technique, entry speed (kt), entry descent (ft/min), height lost (ft), time to climb (s), "
    "height at 30 s (ft)\n"
)


def table(lost: list[tuple[float, float]], start: int = 1, entries: tuple[str, str] = ("75, 600", "75, 600")) -> str:
    rows = []
    for k, (flaps_first, gear_first) in enumerate(lost, start):
        pair = [
            f"{k}, flaps first, {entries[0]}, {flaps_first}, {4 + flaps_first / 50:.1f}, {200 - flaps_first}",
            f"{k}, gear first, {entries[1]}, {gear_first}, {4 + gear_first / 50:.1f}, {200 - gear_first}",
        ]
        rows += pair if k % 2 else pair[::-1]
    return COLUMNS + "".join(row + "\n" for row in rows)


LOST = [(140, 85), (130, 90), (150, 80), (120, 75), (145, 100), (160, 95), (135, 85)]


def run_of(text: str, header: str = HEADER, airplane: str = QUILLBACK) -> GoAroundRun:
    (run,) = METHOD.from_recording("P1", read_recording((header + text).encode(), "pairs.csv"), {}, quillback(airplane))
    return run


def results(text: str, header: str = HEADER) -> dict[str, HandResult]:
    return {result.key: result for result in METHOD.by_hand(run_of(text, header), BELIEFS)}


def test_what_a_list_becomes() -> None:
    run = run_of(table(LOST))
    assert run.title == "7 pairs of go-arounds, flaps first against gear first"
    assert run.techniques == ("flaps first", "gear first")
    assert run.technique.tolist()[:4] == [0, 1, 1, 0]
    assert run.pairs == ("1", "2", "3", "4", "5", "6", "7")
    assert [score.key for score in run.score_list] == ["height lost", "time to climb", "height at 30 s"]
    assert run.scores[0] == pytest.approx([140 * FT, 6.8, 60 * FT])
    assert run.entry_ias_mps == pytest.approx(np.full(14, 75 * KT))
    assert run.entry_speed_mps[0] > run.entry_ias_mps[0]  # 4,000 ft
    assert run.entry_descent_mps == pytest.approx(np.full(14, 600 * FPM))
    assert run.flown_rows.tolist() == list(range(5, 19))
    assert run.matters == pytest.approx({"length": 30 * FT, "time": 2.0})
    assert (run.entry_gear, run.entry_flap_rad) == (1.0, BELIEFS.settings[-1].angle_rad)
    assert run.rows.size == 0


@pytest.mark.parametrize("spelling", ["go-around pairs", "Go around pairs", "go_around_pairs"])
def test_the_method_is_found_by_its_name(spelling: str) -> None:
    assert method(spelling).key == METHOD.key


def test_other_ways_of_writing_a_list() -> None:
    text = (
        "Pair;Technique;Height loss;Weight (lb);entry rate of descent\n"
        "a;Flaps-First;120 ft;2880;3,0 m/s\na;gear first;30 m;2875;-600 ft/min\nb;GEAR FIRST;90 ft;;\n"
        "b;flaps first;;;\n"
    )
    run = run_of(text, "# altitude: 4000 ft\n")
    assert run.techniques == ("Flaps-First", "gear first")
    assert run.technique.tolist() == [0, 1, 1, 0]
    assert run.scores[:, 0] == pytest.approx([120 * FT, 30.0, 90 * FT, np.nan], nan_ok=True)
    assert run.entry_descent_mps == pytest.approx([3.0, 600 * FPM, np.nan, np.nan], nan_ok=True)
    assert run.mass_kg == pytest.approx(np.array([2880, 2875, 2877.5, 2877.5]) * LB)
    assert np.isnan(run.entry_speed_mps).all()


def test_a_difference_that_matters_by_hand() -> None:
    found = results(table(LOST))
    equal = found["height lost, at equal entry"]
    # By hand: differences 55, 40, 70, 45, 45, 65, 50 ft: mean 52.857, standard deviation 11.127, error 4.206 ft.
    assert equal.value.unit == "ft"
    assert equal.value.value == pytest.approx(52.857, abs=1e-3)
    assert equal.value.standard_uncertainty == pytest.approx(4.206, abs=1e-3)
    assert equal.value.dof == pytest.approx(6.0)
    # All seven the same way: p = 2/2^7 = 0.016; floor(0.025 x 128) = 3: the third-smallest subset mean, by hand 42.5.
    assert "Exact sign-flip p 0.016 from 7 pairs" in equal.sentence
    means = sorted(np.mean(s) for r in range(1, 8) for s in itertools.combinations([55, 40, 70, 45, 45, 65, 50], r))
    whole = compare(run_of(table(LOST)), 0)
    assert whole is not None
    assert (whole.exact_low, whole.exact_high) == pytest.approx((means[2] * FT, means[-3] * FT))
    assert re.search("exact 95 % interval 4[23] to 65 ft", equal.sentence)
    assert "Gear first is ahead by 53 ft, more than chance would do and more than what matters." in equal.sentence
    assert "3 scores were read and each p stands by itself: height lost is the one to judge by." in equal.sentence
    assert "a true difference of 30 ft shows in four of five trials of 6 pairs" in equal.sentence
    assert "flown first" not in equal.sentence  # alternated
    # Every result says which way is better: more height is better than less.
    assert "Gear first is ahead by 53 ft" in found["height at 30 s, at equal entry"].sentence
    assert found["height at 30 s, at equal entry"].value.value == pytest.approx(-52.857, abs=1e-3)
    assert "Too small to matter" in found["time to climb, at equal entry"].sentence
    assert found["height lost, as flown"].value.value == pytest.approx(52.857, abs=1e-3)
    assert not any(result.is_drag for result in found.values())


def test_verdicts() -> None:
    close = results(table([(110, 85), (90, 100), (140, 90), (70, 95), (150, 90), (90, 85), (85, 90)]))
    assert "Too close to call: gear first is ahead by 14 ft" in close["height lost, at equal entry"].sentence
    small = results(table([(90, 85), (92, 86), (91, 84), (95, 90), (88, 84), (89, 82), (93, 86)]))
    assert (
        "Too small to matter: the whole interval is within the 30 ft stated" in small["height lost, as flown"].sentence
    )
    header = HEADER.replace("# matters: 30 ft, 2 s\n", "")
    unstated = results(table(LOST), header)["height lost, at equal entry"].sentence
    assert "no difference that matters was stated before flying, so it is not called a win" in unstated
    assert "four of five" not in unstated


def test_few_pairs_cannot_tell() -> None:
    said = results(table(LOST[:5]))["height lost, at equal entry"].sentence
    assert "Too close to call" in said
    assert "no result of 5 pairs can be below p 0.0625, so fly at least 6" in said
    assert results(table(LOST[:1])) == {}


def test_one_technique_always_first_is_noticed() -> None:
    text = COLUMNS + "".join(
        f"{k}, flaps first, 75, 600, {a}, 6, 60\n{k}, gear first, 75, 600, {b}, 5, 90\n"
        for k, (a, b) in enumerate(LOST)
    )
    said = results(text)["height lost, at equal entry"].sentence
    assert "Flaps first was flown first in 7 of 7 pairs" in said
    assert "alternate the order" in said


def test_a_pair_that_is_not_complete_is_named_and_the_rest_compared_too() -> None:
    found = results(table(LOST) + "8, gear first, 75, 600, 88, 5, 100\n")
    said = found["height lost, at equal entry"].sentence
    assert "Pair 8 is not complete and not counted" in said
    assert "from 7 pairs" in said
    loose = found["height lost, pairing ignored"]
    gear = [85, 90, 80, 75, 100, 95, 85, 88]
    assert loose.value.value == pytest.approx(140.0 - float(np.mean(gear)))
    assert "7 against 8; permutation p below 0.001" in loose.sentence
    assert loose.strength == 3


def slopeless() -> EntryModel:
    """A model that another room could hand in: 4 s of the entry speed and 10 s of the descent are height lost."""
    return EntryModel(lambda _t, speed, descent: {"height lost": 10.0 * descent - 4.0 * speed}, 0.1, "a stated rule")


def test_entries_are_brought_together_by_a_model_handed_in() -> None:
    text = "pair, technique, entry speed (kt), entry descent (ft/min), height lost (ft)\n" + "".join(
        f"{k}, fast, 78, 600, 100\n{k}, slow, 74, 500, 100\n" for k in range(6)
    )
    run = run_of(text, "# altitude: 0 ft\n# weight: 2900 lb\n")
    found = compare(run, 0, slopeless())
    assert found is not None
    # By hand: 100 ft/min more descent is 5.08 m (16.7 ft) lost, 4 kt more is 8.23 m (27.0 ft) less: -10.3 ft in all.
    shift = 10.0 * 100 * FPM - 4.0 * 4 * KT
    assert found.correction == pytest.approx(shift, rel=1e-3)
    assert found.difference.value == pytest.approx(-shift, rel=1e-3)
    assert found.difference.budget["entry correction"] == pytest.approx(0.1 * abs(shift), rel=1e-3)
    (equal, flown) = hand_results(run, BELIEFS, slopeless())
    assert (equal.key, flown.key) == ("height lost, at equal entry", "height lost, as flown")
    assert flown.value.value == 0.0
    assert "by a stated rule, which takes -10 ft off the mean difference, good to 10 % of it" in equal.sentence


def test_energy_arguments() -> None:
    run = run_of(table(LOST), HEADER.replace("4000 ft", "0 ft"))
    model = energy_model(run, BELIEFS.prior_row())
    speed = 75 * KT
    fast, usual = model.scores("", speed + 5 * KT, 3.0), model.scores("", speed, 3.0)
    # In the long run 5 kt more is ((80^2 - 75^2) kt^2)/2g = 10.5 m of height, and what it climbs otherwise.
    energy = ((80 * KT) ** 2 - (75 * KT) ** 2) / (2 * G)
    late = fast["height at 60 s"] - usual["height at 60 s"]
    assert energy == pytest.approx(10.46, abs=0.01)
    assert 0.6 * energy < late < 1.1 * energy
    assert 0.0 < fast["height at 15 s"] - usual["height at 15 s"] < late
    # A faster entry loses less, a steeper one more: (3.5^2 - 3^2)/(2 x 0.15 g) + 0.5 x 1.5 s, exact, less what a longer
    # stop gains.
    steep = model.scores("", speed, 3.5)
    assert fast["height lost"] < usual["height lost"]
    assert steep["height at 60 s"] - usual["height at 60 s"] == pytest.approx(
        -((3.5**2 - 9.0) / (0.3 * G) + 0.75), abs=1e-9
    )
    assert steep["time to climb"] - usual["time to climb"] == pytest.approx(0.5 / (0.15 * G))


def test_excess_power_slope_in_other_words() -> None:
    # Ps = (T - D) V / W with the disk solved from its power balance, differentiated by hand over 1 m/s.
    row = BELIEFS.prior_row()
    weight, speed = 2900 * LB * G, 75 * KT
    area, span, wing = row[v.DISK_AREA], row[v.SPAN], row[v.WING_AREA]
    f = row[v.F_CLEAN] + row[v.F_GEAR] * (1 - row[v.KAPPA])
    flap, slope = row[v.F_FLAPS + 2], row[v.FLAP_SLOPES + 2]

    def ps(u: float) -> float:
        power = row[v.DISK_EFFICIENCY] * row[v.RATED_POWER] * (u / row[v.EFFICIENCY_SPEED]) ** row[v.EFFICIENCY_SLOPE]
        roots = np.roots([2 * 1.225 * area, -2 * 1.225 * area * u, 0.0, -power])
        through = float(max(roots.real[np.abs(roots.imag) < 1e-9]))
        q = 0.5 * 1.225 * u * u
        cl = weight / (q * wing)
        area_now = f + row[v.CLEAN_SLOPE] * (cl - 0.5) + flap + slope * (cl - 0.5)
        return float((power / through - q * area_now - weight**2 / (q * np.pi * row[v.OSWALD] * span**2)) * u / weight)

    seen = excess_power_slope(row, 1.0, BELIEFS.settings[-1].angle_rad, speed, weight, 1.225)
    assert seen == pytest.approx(ps(speed + 0.5) - ps(speed - 0.5), rel=1e-6)
    assert f > 4 * FT2


def test_corrections_take_the_entry_out_of_simulated_pairs() -> None:
    rng = np.random.default_rng(12)
    run, row = run_of(table(LOST * 2)), BELIEFS.prior_row()
    model = energy_model(run, row)
    raw, fair = [], []
    for _ in range(120):
        again = METHOD.simulate(run, row, BELIEFS, rng)
        plain, equal = compare(again, 2), compare(again, 2, model)  # height at 30 s
        assert plain is not None
        assert equal is not None
        raw.append(plain.spread)
        fair.append(equal.spread)
        assert equal.difference.value == pytest.approx(-52.857 * FT, abs=5.0 * equal.difference.standard_uncertainty)
    # Scores scatter by 20 ft each, so differences by 28.3 ft once the entry is out.
    assert float(np.mean(fair)) == pytest.approx(20.0 * math.sqrt(2.0) * FT, rel=0.05)
    assert float(np.mean(raw)) > 1.05 * float(np.mean(fair))


def test_simulation_keeps_what_was_not_read() -> None:
    run = run_of("pair,technique,height lost (ft)\n1,a,100\n1,b,\n2,b,90\n2,a,120\n")
    again = METHOD.simulate(run, BELIEFS.prior_row(), BELIEFS, np.random.default_rng(1))
    assert np.isnan(again.scores[1, 0])
    assert np.isfinite(again.scores[[0, 2, 3], 0]).all()
    assert np.isnan(again.entry_speed_mps).all()
    same = METHOD.simulate(run, BELIEFS.prior_row(), BELIEFS, np.random.default_rng(1))
    assert again.scores[0, 0] == same.scores[0, 0]


def test_entries_not_written_are_not_corrected_for() -> None:
    text = "pair,technique,height lost (ft)\n" + "".join(f"{k},a,100\n{k},b,{80 + k}\n" for k in range(6))
    found = results(text)
    assert set(found) == {"height lost, as flown"}
    assert "nothing is corrected for it" in found["height lost, as flown"].sentence
    assert math.isnan(found["height lost, as flown"].speed_mps)
    run = run_of(text)
    assert np.isnan(corrections(run, slopeless())).all()


def test_the_joint_fit_is_not_shaped_by_go_arounds() -> None:
    known = study_beliefs()
    row = known.prior_row()
    runs = small_study(row)
    (pairs,) = METHOD.from_recording("P1", read_recording((HEADER + table(LOST)).encode(), "pairs.csv"), {}, known)
    alone, together = fit(known, runs), fit(known, [*runs, StudyRun(pairs, METHOD)])
    assert together.z == pytest.approx(alone.z, abs=1e-9)
    none = np.zeros(0)
    assert METHOD.observed(pairs).size == 0
    assert METHOD.predict(pairs, row, none, known).size == 0
    assert METHOD.residuals(pairs, row, none, known).size == 0
    assert METHOD.nuisances(pairs, known) == ()


def test_entries_beyond_a_limit() -> None:
    run = replace(run_of(table(LOST)), entry_ias_mps=np.where(np.arange(14) == 3, 108 * KT, 75 * KT))
    found = METHOD.exceedances(run, BELIEFS)
    assert [(e.limit, e.row) for e in found] == [("VFE (full)", 8)]
    nothing = run_of("pair,technique,height lost (ft)\n1,a,100\n1,b,90\n")
    assert METHOD.exceedances(nothing, BELIEFS) == []


@pytest.mark.parametrize(
    ("text", "header", "said"),
    [
        ("flap,speed\nup,60\n", HEADER, "pairs.csv: go-around pairs need the columns pair, technique"),
        ("pair,technique,mood\n1,a,good\n1,b,bad\n", HEADER, "pairs.csv: no row has a score"),
        ("pair,technique,height lost (ft)\n1,a,100\n1,a,90\n", HEADER, "there is 1 techniques ('a')"),
        (
            "pair,technique,height lost (ft)\n1,a,100\n1,b,90\n2,c,90\n",
            HEADER,
            "pairs.csv, technique: there are 3 techniques ('a', 'b', 'c')",
        ),
        (
            "pair,technique,height lost (ft)\n1,a,100\n1,b,90\n1,A,95\n",
            HEADER,
            "pairs.csv, row 7: pair 1 has 'a' 2 times",
        ),
        ("pair,technique,height lost (ft)\n,a,100\n1,b,90\n", HEADER, "pairs.csv, row 5, pair: the pair is missing"),
        ("pair,technique,height lost (ft)\n1,,100\n1,b,90\n", HEADER, "row 5, technique: the technique is missing"),
        ("pair,technique,height lost\n1,a,100\n1,b,90\n", HEADER, "row 5, height lost: '100' has no unit"),
        ("pair,technique,height lost (s)\n1,a,100\n1,b,90\n", HEADER, "'s' is not a unit of length"),
        ("pair,technique,height lost (ft)\n1,a,-100\n1,b,90\n", HEADER, "'-100 ft' is not a likely height lost"),
        ("pair,technique,height at 30 s (ft)\n1,a,9000\n1,b,90\n", HEADER, "'9000 ft' is not a likely height at 30 s"),
        (
            "pair,technique,time to climb (s)\n1,a,soon\n1,b,9\n",
            HEADER,
            "row 5, time to climb: 'soon' is not a quantity",
        ),
        (table(LOST), HEADER.replace("30 ft, 2 s", "much"), "matters: 'much' is not a difference"),
        (table(LOST), HEADER + "# score: beauty\n", "score: 'beauty' is not a score of this list"),
        (table(LOST), "# weight: 2900 lb\n", "does not say its altitude"),
        (table(LOST), "# altitude: 4000 ft\n", "does not say its weight"),
        (table(LOST), HEADER + "# entry flaps: third\n", "entry flaps: 'third' is not a flap setting"),
        (table([(100, 90)] * 41), HEADER, "41 pairs are more than can be counted exactly"),
    ],
)
def test_bad_lists_get_one_sentence(text: str, header: str, said: str) -> None:
    with pytest.raises(BadInputError) as caught:
        run_of(text, header)
    assert said in str(caught.value)
    assert caught.value.expected


@pytest.mark.parametrize(
    ("words", "blocking", "said"),
    [
        ({"hard deck above ground": "3500 ft", "entry speed": "75 kt"}, [], []),
        ({}, [False], ["the height of the hard deck is not stated"]),
        ({"hard deck above ground": "2000 ft"}, [True], ["2,000 ft above ground is below 3,000 ft"]),
        ({"hard deck above ground": "3500 ft", "call above deck": "300 ft"}, [True], ["leaves less than 500 ft"]),
        ({"hard deck above ground": "3500 ft", "entry speed": "106 kt"}, [True, False], ["VFE (full) 105", "VLO"]),
        ({"hard deck above ground": "3500 ft", "entry speed": "57 kt"}, [False], ["1.14 times the believed stall"]),
        ({"hard deck above ground": "3500 ft", "entry speed": "52 kt"}, [True], ["1.04 times the believed stall"]),
    ],
)
def test_heights_and_limits_guard_the_plan(words: dict[str, str], blocking: list[bool], said: list[str]) -> None:
    notices = METHOD.guard(BELIEFS, words)
    assert [notice.blocking for notice in notices] == blocking
    assert all(part in notice.sentence for part, notice in zip(said, notices, strict=True))

"""Growth against what stands outside the project.

Published rates, trim effects and geometry, each with its source; the shrunk means
against statsmodels' MixedLM; the 80 % band's coverage and the days of the limit
against herds whose truth is known.
"""

import warnings
from datetime import date, timedelta

import numpy as np
import pytest

from horses.growth import (
    EVEN,
    HorseFacts,
    Prior,
    Priors,
    Reading,
    Record,
    Shape,
    default_priors,
    estimate,
    estimate_all,
    learn_priors,
    leverage_of,
    policy_for,
    windows_all,
)
from horses.growth.estimates import find
from horses.growth.shrink import posterior, spreads_of
from horses.hoof import FEET
from tests.horses.herd import AS_OF, make_herd

WEEKS_A_MONTH = 30.4375 / 7
START = date(2024, 1, 1)


def rate_read(gain_mm, days, *, shod=True):
    """The rate believed of a horse that gained so much in so many days for six years."""
    visits = round(6 * 365 / days)
    readings = tuple(
        Reading(foot, START + timedelta(days=round(days * n)), 80.0 + gain_mm, 80.0)
        for foot in FEET
        for n in range(visits)
    )
    facts = HorseFacts(foaled_year=2016, shod=shod)
    last = readings[-1].day
    return estimate(Record(facts, readings), as_of=last, season=EVEN).feet[0]


# ---- Published rates ---------------------------------------------------------------
@pytest.mark.parametrize(
    ("gain_mm", "days", "mm_per_month", "shod"),
    [
        # Kolstrung et al. (2012) Med Weter 68(7):426-429: 2.1 mm a week, which is
        # 9.131 mm a month [computed].
        pytest.param(12.6, 42, 9.131, False, id="Kolstrung 2012"),
        # Reilly et al. (1998) EVJ Suppl 26:51-57: 30.69 mm in five months, 35.34 mm
        # with biotin: 6.138 and 7.068 mm a month [computed].
        pytest.param(30.69, 5 * 30.4375, 6.138, False, id="Reilly 1998, control"),
        pytest.param(35.34, 5 * 30.4375, 7.068, False, id="Reilly 1998, biotin"),
        # Lungwitz & Adams, A Text-Book of Horseshoeing: 1/3 inch a month, 8.467 mm.
        pytest.param(25.4 / 3, 30.4375, 8.467, True, id="Lungwitz"),
        # The 8-week data behind van Heel et al. (2005) EVJ 37(6):536-540, as quoted:
        # 14 mm before, 15 mm behind: 7.61 and 8.16 mm a month [computed].
        pytest.param(14, 56, 7.61, True, id="van Heel 2005, fore"),
        pytest.param(15, 56, 8.16, True, id="van Heel 2005, hind"),
    ],
)
def test_a_published_rate_is_read_back(gain_mm, days, mm_per_month, shod):
    found = rate_read(gain_mm, days, shod=shod)
    monthly = found.rate_mm_per_week * WEEKS_A_MONTH
    assert monthly == pytest.approx(mm_per_month, rel=0.02)
    assert found.low80 * WEEKS_A_MONTH < mm_per_month < found.high80 * WEEKS_A_MONTH


def test_biotin_makes_15_percent_in_the_rates_that_are_read():
    """Reilly 1998: treated to control 1.1515 [computed from the published gains]."""
    days = 5 * 30.4375
    treated, control = (rate_read(gain, days, shod=False) for gain in (35.34, 30.69))
    ratio = treated.rate_mm_per_week / control.rate_mm_per_week
    assert ratio == pytest.approx(1.1515, abs=0.02)


def test_the_priors_hold_the_published_rates():
    """An adult's middle 95 % holds 6 to 13 mm a month (trade texts) nearly whole, and
    each of the studies' means; a foal renews its hoof in about half an adult's time
    (Curtis S, Martin J, Hobbs SJ (2014) Vet J 201(1):116-117: 145 days against 270 to
    365).
    """
    of = default_priors().of
    adult, bare = of["adult", True], of["adult", False]
    for monthly in (6.138, 7.068, 7.61, 8.16, 8.467, 9.131):
        for prior in (adult, bare):
            off = monthly / WEEKS_A_MONTH - prior.mean
            assert abs(off) < 1.96 * np.hypot(prior.horse_sd, prior.foot_sd)
    low, high = (
        (adult.mean + way * 1.96 * adult.horse_sd) * WEEKS_A_MONTH for way in (-1, 1)
    )
    assert low == pytest.approx(6, abs=0.5)
    assert high == pytest.approx(13, abs=0.7)
    assert 145 / 365 < adult.mean / of["foal", True].mean < 145 / 225
    # Reilly 1998: older animals grew less.
    assert of["aged", True].mean < adult.mean


@pytest.mark.parametrize(
    ("gain_mm", "mm_per_month", "days"), [(10, 9.131, 33.3), (13, 9.42, 42.0)]
)
def test_days_to_gain(gain_mm, mm_per_month, days):
    """30.4375 G / r [computed]: 10 mm at 9.13 mm a month take 33.3 days, 13 at 9.42
    take 42.
    """
    prior = Prior(mm_per_month / WEEKS_A_MONTH, 1e-6, 1e-6, "given")
    priors = Priors(dict.fromkeys(default_priors().of, prior))
    found = estimate(Record(HorseFacts()), as_of=AS_OF, priors=priors, season=EVEN)
    policy = policy_for(
        "", toe_gain_mm=gain_mm, least_weeks=1, most_weeks=30, latest_weeks=30
    )
    due = windows_all([found], [policy], season=EVEN)[0]
    for day in (due.target, due.latest, due.ready_by):
        assert abs((day - due.start).days - days) <= 1


# ---- Geometry and trim -------------------------------------------------------------
def foot_of(dorsal, toe_mm):
    readings = (Reading("LF", START, None, toe_mm, dorsal),)
    return estimate(Record(HorseFacts(), readings), as_of=AS_OF).feet[0]


@pytest.mark.parametrize(
    ("shod", "loss", "lever_percent"),
    [
        # g = gh = 14, θ 52°, φ 45°, L 120, a 60: without wear 0.547°, with 5.8 mm of
        # heel wear 3.342°; the lever (h 65) +21.5 % at 3.3° [computed, plain
        # trigonometry].
        (False, 0.547, 15.6),
        (True, 3.342, 21.5),
    ],
)
def test_eight_weeks_of_growth(shod, loss, lever_percent):
    facts = HorseFacts(shod=shod, shapes={"LF": Shape(120, 60, 45.0)})
    toe_mm = np.hypot(60, 65)
    after = leverage_of(foot_of(52.0, toe_mm), facts, 14.0)
    assert after.angle_loss_deg == pytest.approx(loss, abs=0.002)
    assert after.lever_change_percent == pytest.approx(lever_percent, abs=0.15)


def test_the_customary_shape_is_that_of_the_worked_example():
    """A toe of 88.46 mm whose shape isn't known stands as a 60, h 65, L 120."""
    facts = HorseFacts(shod=False)
    after = leverage_of(foot_of(52.0, np.hypot(60, 65)), facts, 14.0)
    assert after.angle_loss_deg == pytest.approx(0.547, abs=0.002)


def test_a_trim_of_three_millimetres_steepens_by_about_a_degree():
    """Dareh-Shori horses, Iran J Vet Surg, article 79374: −3.0 mm of dorsal wall,
    +1.35° of hoof axis. Ours: what a shod foot loses in growing by 3 mm.
    """
    facts = HorseFacts(shod=True)
    loss = leverage_of(foot_of(51.4, 85.3), facts, 3.0).angle_loss_deg
    assert 0.4 < loss < 1.35


# ---- statsmodels -------------------------------------------------------------------
@pytest.fixture(scope="module")
def herd():
    """Equal spans, as MixedLM takes one error for all."""
    return make_herd(20, visits=5, horse_sd=0.35, foot_sd=0.2, gaps=(42, 43), seed=5)


def mixed_lm(rate, horse, foot):
    """statsmodels' fit by REML of foot within horse, and its prediction for each slot."""
    # Not statsmodels.api, which takes twice as long to load.
    from statsmodels.regression.mixed_linear_model import MixedLM, VCSpec

    horses = np.unique(horse)
    belongs = [np.eye(4)[foot[horse == one]] for one in horses]
    spec = VCSpec(["foot"], [[list(FEET)] * len(horses)], [belongs])
    ones = np.ones((len(rate), 1))
    model = MixedLM(rate, ones, groups=horse, exog_re=ones, exog_vc=spec)
    fit = model.fit(reml=True, method=["powell", "lbfgs"])
    effects = [fit.random_effects[one].to_numpy() for one in horses]
    mean = fit.fe_params[0]
    return fit, np.array([mean + one[0] + one[1:5] for one in effects]).ravel()


def test_shrunk_means_are_those_of_mixed_lm(herd):
    """With MixedLM's variances our closed form gives its predictions to rounding; with
    ours, learnt by moments and drawn to the defaults as 20 horses are, to 0.1 mm a week
    at the most and 0.03 in the mean, over horses of which no interval was weighed down
    (MixedLM weighs none).
    """
    found = find(
        herd.records,
        as_of=AS_OF,
        priors=default_priors(),
        season=EVEN,
        length_sd_mm=2.0,
    )
    one = found.intervals
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # its search tells of each step
        fit, theirs = mixed_lm(one.rate, one.slot // 4, one.slot % 4)
    prior = Prior(
        fit.fe_params[0], fit.cov_re[0, 0] ** 0.5, fit.vcomp[0] ** 0.5, "MixedLM"
    )
    assert 0.2 < prior.horse_sd < 0.6
    assert 0.05 < prior.foot_sd < 0.4
    spreads = spreads_of(
        herd.records, AS_OF.year, Priors(dict.fromkeys(default_priors().of, prior))
    )
    precision = np.full(len(one.slot), 1 / fit.scale)
    ours, _, _, _ = posterior(one.slot, one.rate, precision, spreads)
    assert ours == pytest.approx(theirs, abs=1e-8)

    learnt = learn_priors(herd.records, as_of=AS_OF, season=EVEN)
    whole = estimate_all(herd.records, as_of=AS_OF, priors=learnt, season=EVEN)
    ours = np.array([foot.rate_mm_per_week for e in whole for foot in e.feet])
    least = np.ones(len(herd.records))
    np.minimum.at(least, one.slot // 4, found.believed.weight)
    clean = np.repeat(least == 1, 4)
    assert clean.mean() > 0.7
    apart = np.abs(ours - theirs)[clean]
    assert apart.max() < 0.1
    assert apart.mean() < 0.03


# ---- Known truth -------------------------------------------------------------------
@pytest.fixture(scope="module")
def many():
    """2,000 horses of four visits; the truth is drawn from the default prior."""
    prior = default_priors().of["adult", True]
    herd = make_herd(
        2000,
        visits=4,
        mean=prior.mean,
        horse_sd=prior.horse_sd,
        foot_sd=prior.foot_sd,
        seed=12,
    )
    return herd, estimate_all(herd.records, as_of=AS_OF, season=EVEN)


def test_the_band_holds_four_truths_in_five(many):
    herd, found = many
    ends = np.array([[(f.low80, f.high80) for f in one.feet] for one in found])
    held = (ends[..., 0] <= herd.rates) & (herd.rates <= ends[..., 1])
    assert 0.76 <= held.mean() <= 0.84
    for foot in range(4):
        assert 0.76 <= held[:, foot].mean() <= 0.84


def test_the_day_of_the_limit_is_unbiased_within_a_day(many):
    """Target against the day on which the true foot gains 12 mm; fast and slow end
    hold it four times in five.
    """
    herd, found = many
    alone = [
        type(one)(one.as_of, one.facts, one.age_years, one.last_visit, one.feet[:1], ())
        for one in found
    ]
    policy = policy_for("", least_weeks=0.5, most_weeks=100, latest_weeks=100)
    due = windows_all(alone, [policy] * len(alone), season=EVEN)
    truth = 7 * 12 / herd.rates[:, 0]
    told = np.array([(one.target - one.start).days for one in due])
    assert abs(np.median(told - truth)) < 1
    assert abs(np.mean(told - truth)) < 1
    early = np.array([(one.ready_by - one.start).days for one in due])
    late = np.array([(one.latest - one.start).days for one in due])
    # Whole days: the last is rounded down, the first to the nearest.
    assert 0.76 <= np.mean((early <= truth) & (truth < late + 0.5)) <= 0.84

"""Intervals and tests against published values and reference libraries."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import false_discovery_control, fisher_exact, multivariate_normal
from sklearn.metrics import cohen_kappa_score
from statsmodels.stats.contingency_tables import StratifiedTable
from statsmodels.stats.multitest import multipletests
from statsmodels.stats.proportion import confint_proportions_2indep

from stance.statistics.inference import (
    ASSUMED_CORRELATION,
    ASSUMED_FREEDOM,
    Clustering,
    bootstrap_interval,
    cochran_mantel_haenszel,
    design_effect,
    effective_number,
    estimate_clustering,
    mantel_haenszel_weights,
    newcombe_interval,
    resample,
    scatter_part,
    summed_interval,
)
from stance.statistics.rallies import RALLY_CORRELATION
from stance.statistics.shares import wilson_interval

# R. G. Newcombe, Statistics in Medicine 17 (1998) 873-890, Table II, method 10: x1/n1, x2/n2 and
# the interval; 5/56 - 0/29 also in ratesci's documentation (MOVER-W); 7/34 - 1/34 from M. W.
# Fagerland, S. Lydersen and P. Laake, Statistical Methods in Medical Research 24 (2015) 224-254.
NEWCOMBE = [
    ((56, 70), (48, 80), 0.0524, 0.3339),
    ((9, 10), (3, 10), 0.1705, 0.8090),
    ((6, 7), (2, 7), 0.0582, 0.8062),
    ((5, 56), (0, 29), -0.0381, 0.1926),
    ((0, 10), (0, 20), -0.1611, 0.2775),
    ((0, 10), (0, 10), -0.2775, 0.2775),
    ((10, 10), (0, 20), 0.6791, 1.0),
    ((10, 10), (0, 10), 0.6075, 1.0),
    ((7, 34), (1, 34), 0.019, 0.340),
]

# Admissions to six departments of the University of California, Berkeley, 1973: men admitted and
# rejected, women admitted and rejected (P. J. Bickel, E. A. Hammel and J. W. O'Connell, Science
# 187 (1975) 398-404; R's UCBAdmissions).
ADMISSIONS = np.array(
    [
        [[512, 313], [89, 19]],
        [[353, 207], [17, 8]],
        [[120, 205], [202, 391]],
        [[138, 279], [131, 244]],
        [[53, 138], [94, 299]],
        [[22, 351], [24, 317]],
    ],
    float,
)

# Y. Benjamini and Y. Hochberg, Journal of the Royal Statistical Society B 57 (1995), section 4.
BENJAMINI_HOCHBERG = [
    0.0001,
    0.0004,
    0.0019,
    0.0095,
    0.0201,
    0.0278,
    0.0298,
    0.0344,
    0.0459,
    0.3240,
    0.4262,
    0.5719,
    0.6528,
    0.7590,
    1.0,
]
ADJUSTED = [
    0.0015,
    0.003,
    0.0095,
    0.035625,
    0.0603,
    0.063857,
    0.063857,
    0.0645,
    0.0765,
    0.486,
    0.581182,
    0.714875,
    0.753231,
    0.813214,
    1.0,
]


@given(
    st.lists(st.integers(1, 6), min_size=1, max_size=5).filter(lambda n: sum(n) > 1),
    st.floats(0.0, 0.5),
)
def test_the_scatter_of_alike_positions_shows_less_than_their_variance(sizes, correlation):
    # The sample variance of values with covariance matrix V is on average the trace of C V over
    # n - 1, C the centring matrix.
    clips = np.repeat(np.arange(len(sizes)), sizes)
    covariance = np.where(clips[:, None] == clips, correlation, 0.0)
    np.fill_diagonal(covariance, 1.0)
    centring = np.eye(len(clips)) - 1 / len(clips)
    expected = np.trace(centring @ covariance) / (len(clips) - 1)
    assert scatter_part(clips, Clustering(correlation, 4)) == pytest.approx(expected)


def newcombe(first, second):
    """Newcombe's interval of two counts."""
    return newcombe_interval(
        first[0] / first[1],
        wilson_interval(*first),
        second[0] / second[1],
        wilson_interval(*second),
    )


@pytest.mark.parametrize(("first", "second", "lower", "upper"), NEWCOMBE)
def test_newcombes_interval_is_the_published_one(first, second, lower, upper):
    exact = len(f"{lower}") > 5 or len(f"{upper}") > 5
    assert newcombe(first, second) == pytest.approx((lower, upper), abs=1e-4 if exact else 6e-4)


@given(st.integers(1, 40), st.integers(1, 40), st.data())
def test_newcombes_interval_is_that_of_statsmodels(n1, n2, data):
    x1, x2 = data.draw(st.integers(0, n1)), data.draw(st.integers(0, n2))
    theirs = confint_proportions_2indep(x1, n1, x2, n2, compare="diff", method="newcomb")
    assert newcombe((x1, n1), (x2, n2)) == pytest.approx(theirs, abs=1e-9)


def test_an_error_that_both_estimates_share_cancels():
    apart = newcombe_interval(0.6, (0.4, 0.8), 0.3, (0.1, 0.5))
    shared = newcombe_interval(0.6, (0.4, 0.8), 0.3, (0.1, 0.5), correlation=0.8)
    assert shared[0] > apart[0] and shared[1] < apart[1]
    # Fully shared and equally wide: nothing is left but the difference.
    whole = newcombe_interval(0.6, (0.4, 0.8), 0.3, (0.1, 0.5), correlation=1.0)
    assert whole == pytest.approx((0.3, 0.3))


def test_with_a_normal_error_the_difference_is_the_textbook_one():
    # var(a - b) = var(a) + var(b) - 2 cov(a, b), from drawn pairs.
    covariance = np.array([[0.04, 0.018], [0.018, 0.09]])
    draws = multivariate_normal([0, 0], covariance, seed=1).rvs(200_000)
    spread = 1.96 * (draws[:, 0] - draws[:, 1]).std()
    low, high = newcombe_interval(
        0.0, (-1.96 * 0.2, 1.96 * 0.2), 0.0, (-1.96 * 0.3, 1.96 * 0.3), correlation=0.018 / 0.06
    )
    assert (low, high) == pytest.approx((-spread, spread), rel=0.01)


# DEFF = 1 + (m - 1) ICC: L. Kish, Survey Sampling (1965).
@pytest.mark.parametrize(
    ("size", "correlation", "effect"), [(10, 0.1, 1.9), (30, 0.3, 9.7), (30, 0.5, 15.5)]
)
def test_the_design_effect_is_kishs(size, correlation, effect):
    clips = np.repeat(np.arange(4), size)
    assert design_effect(clips, Clustering(correlation, 9)) == pytest.approx(effect)
    # With a correlation known for sure, n / DEFF independent positions are left.
    sure = Clustering(correlation, 1e9)
    assert effective_number(clips, sure) == pytest.approx(4 * size / effect, rel=1e-6)


def test_a_rally_counts_as_alike_even_where_clips_do_not():
    # One clip of 10 positions in rallies of 4 and 6: a position meets 4.2 others of its rally.
    clips, rallies = np.zeros(10, int), np.array([0] * 4 + [1] * 6)
    nothing = Clustering(0.0, 1e9)
    assert design_effect(clips, nothing, rallies) == pytest.approx(1 + 4.2 * RALLY_CORRELATION)
    assert scatter_part(clips, nothing, rallies) < scatter_part(clips, nothing)
    # Positions of a clip are more alike than that already.
    alike = Clustering(RALLY_CORRELATION + 0.1, 9)
    assert design_effect(clips, alike, rallies) == design_effect(clips, alike)


def test_an_uncertain_correlation_leaves_fewer_effective_positions():
    clips = np.repeat(np.arange(3), 12)
    numbers = [effective_number(clips, Clustering(0.2, freedom)) for freedom in (3, 10, 1e9)]
    assert numbers == sorted(numbers)
    assert effective_number(clips, Clustering(0.2, 5), variance_known=False) < effective_number(
        clips, Clustering(0.2, 5)
    )
    assert effective_number(np.zeros(1, int), Clustering()) <= 1.0


def test_the_intraclass_correlation_is_found_again():
    random = np.random.default_rng(2)
    clip_means = random.normal(0, np.sqrt(0.3), 2000)
    values = np.repeat(clip_means, 8) + random.normal(0, np.sqrt(0.7), 16_000)
    found = estimate_clustering([(values, np.repeat(np.arange(2000), 8))])
    assert found.correlation == pytest.approx(0.3, abs=0.03)
    # Positions that do not resemble each other, of two sets with different means.
    sets = [(random.normal(mean, 1, 16_000), np.repeat(np.arange(2000), 8)) for mean in (0, 5)]
    assert estimate_clustering(sets).correlation == pytest.approx(0.0, abs=0.02)


def test_one_clip_cannot_tell_how_clips_differ():
    one = [(np.array([0.0, 1.0, 1.0]), np.zeros(3, int))] * 2
    assert estimate_clustering(one) == Clustering(ASSUMED_CORRELATION, ASSUMED_FREEDOM)
    assert (
        estimate_clustering([])
        == estimate_clustering([(np.zeros(0), np.zeros(0, int))])
        == Clustering()
    )
    same = [(np.ones(8), np.repeat([0, 1], 4))]
    assert estimate_clustering(same) == Clustering()


def test_a_weighted_sum_has_the_intervals_of_its_parts():
    # Symmetric intervals: the half widths add in squares.
    interval = summed_interval(
        np.array([0.2, 0.4]), np.array([[0.1, 0.3], [0.0, 0.8]]), np.array([0.5, 0.5])
    )
    half = np.hypot(0.05, 0.2)
    assert interval == pytest.approx((0.3 - half, 0.3 + half))


def test_the_bootstrap_interval_of_a_mean_is_students():
    # Hesterberg (2015): expanded percentiles reproduce the t interval of a mean.
    values = np.random.default_rng(4).normal(size=12)
    times = resample(12, 40_000, 0)
    assert (times.sum(axis=1) == 12).all()
    low, high = bootstrap_interval(times @ values / 12, 12)
    half = 2.201 * values.std(ddof=1) / np.sqrt(12)  # t table, 11 degrees of freedom
    assert (low, high) == pytest.approx((values.mean() - half, values.mean() + half), abs=0.06)


def test_cochran_mantel_haenszel_is_that_of_r_and_statsmodels():
    # R: mantelhaen.test(UCBAdmissions, correct = FALSE): M^2 = 1.5246, p = 0.2169.
    assert cochran_mantel_haenszel(ADMISSIONS) == pytest.approx(0.21692, abs=5e-6)
    table = StratifiedTable(list(ADMISSIONS))
    assert cochran_mantel_haenszel(ADMISSIONS) == pytest.approx(
        table.test_null_odds(correction=False).pvalue
    )
    # R's other figures hold the data themselves: common odds ratio, and the corrected test.
    assert table.oddsratio_pooled == pytest.approx(0.904697, abs=1e-6)
    assert table.test_null_odds(correction=True).statistic == pytest.approx(1.42695, abs=1e-5)
    assert np.isnan(cochran_mantel_haenszel(np.array([[[3.0, 0.0], [4.0, 0.0]]])))


@pytest.mark.filterwarnings("error")
@pytest.mark.parametrize(
    "uninformative",
    [
        pytest.param([[1.0, 0.0], [0.0, 0.0]], id="one position"),
        pytest.param([[0.0, 0.0], [0.0, 0.4]], id="less than one effective position"),
        pytest.param([[0.0, 0.0], [0.0, 0.0]], id="no position"),
    ],
)
def test_a_stratum_that_cannot_tell_is_left_out_of_cochran_mantel_haenszel(uninformative):
    # Its variance would be 0 / 0: n^2 (n - 1) = 0. R refuses such strata.
    tables = np.concatenate([ADMISSIONS[:3], [uninformative], ADMISSIONS[3:]])
    theirs = StratifiedTable(list(ADMISSIONS)).test_null_odds(correction=False).pvalue
    assert cochran_mantel_haenszel(tables) == pytest.approx(theirs)
    assert np.isnan(cochran_mantel_haenszel(np.array([uninformative])))


def test_the_common_difference_does_not_fall_for_simpsons_paradox():
    # Over all departments men are admitted more often, within them women slightly more often.
    rates = ADMISSIONS[:, :, 0] / ADMISSIONS.sum(axis=2)
    weights = mantel_haenszel_weights(*ADMISSIONS.sum(axis=2).T)
    pooled = ADMISSIONS[:, :, 0].sum(axis=0) / ADMISSIONS.sum(axis=(0, 2))
    assert pooled[0] - pooled[1] > 0.1
    assert weights @ (rates[:, 0] - rates[:, 1]) < 0
    assert weights.sum() == pytest.approx(1.0)


def test_the_libraries_used_for_false_discoveries_and_tables_give_the_published_values():
    # `screen` takes these two from SciPy; `tests.evaluation.screening_check` takes kappa from
    # scikit-learn.
    q_values = false_discovery_control(BENJAMINI_HOCHBERG, method="bh")
    assert q_values == pytest.approx(ADJUSTED, abs=5e-6)
    assert (q_values <= 0.05).sum() == 4
    assert q_values == pytest.approx(multipletests(BENJAMINI_HOCHBERG, method="fdr_bh")[1])
    # R. A. Fisher, The Design of Experiments (1935): the lady tasting tea.
    assert fisher_exact([[3, 1], [1, 3]]).pvalue == pytest.approx(34 / 70)
    assert fisher_exact([[3, 1], [1, 3]], alternative="greater").pvalue == pytest.approx(17 / 70)
    assert fisher_exact([[4, 0], [0, 4]], alternative="greater").pvalue == pytest.approx(1 / 70)


@pytest.mark.parametrize(
    ("table", "kappa"),
    [
        # J. Cohen, Educational and Psychological Measurement 20 (1960) 37-46, and examples of equal
        # agreement; R. Artstein and M. Poesio, Computational Linguistics 34 (2008) 555-596.
        ([[20, 5], [10, 15]], 0.40),
        ([[45, 15], [25, 15]], 0.1304),
        ([[25, 35], [5, 35]], 0.2593),
        ([[20, 20], [10, 50]], 0.3478),
    ],
)
def test_kappa_is_the_published_one(table, kappa):
    pairs = [(i, j) for i in (0, 1) for j in (0, 1) for _ in range(table[i][j])]
    assert cohen_kappa_score(*zip(*pairs, strict=True)) == pytest.approx(kappa, abs=5e-5)

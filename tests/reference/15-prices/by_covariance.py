"""The price model of `market.toml` and `comparables.csv`, worked out apart from the program: in covariance form, with dense
quadrature over the scatter, and with no code in common. Needs numpy and scipy.

    python tests/reference/15-prices/by_covariance.py priors/tidewheel > tests/reference/15-prices/expected.csv

Source of the model: Gelman et al., Bayesian Data Analysis, 3rd ed., ch. 14 (linear regression with normal priors) and sec. 2.6
(scaled inverse chi-squared prior of a variance).
"""

import csv
import sys
import tomllib

import numpy as np
from scipy.optimize import brentq
from scipy.stats import norm

PACK = sys.argv[1]
SIZES = ["I", "II", "III", "IV", "V", "VI"]
WORKS = {
    "K01": "Lantern Works", "K02": "Lantern Works", "K03": "Lantern Works",
    "K04": "Rushlight Bank", "K06": "Quayend", "K07": "Quayend", "K11": "Drift Lane",
}
EFFECTIVE = 2024 + (3 - 1 + 30.5 / 31) / 12  # 31 March 2024
QUANTILES = (0.05, 0.25, 0.5, 0.75, 0.95)
GRID = 4001

with open(PACK + "/market.toml", "rb") as file:
    market = tomllib.load(file)
with open(PACK + "/comparables.csv") as file:
    sales = list(csv.DictReader(file))
usual, prices = market["usual"], market["prices"]


def factor(text):
    return float(str(text).lstrip("x"))


def normal_of(belief):
    """Mean and standard deviation of the logarithm."""
    low, high = map(factor, belief["between"])
    coverage = float(belief["coverage"].rstrip("%")) / 100
    return np.log(factor(belief["say"])), np.log(high / low) / (2 * norm.ppf(0.5 + coverage / 2))


names, means, variances = [], [], []


def add(name, mean, sd):
    names.append(name)
    means.append(mean)
    variances.append(sd**2)


add("level", *normal_of(usual["price"]))
add("size", *normal_of(prices["each_size_larger"]))
add("grade", *normal_of(prices["each_grade_better"]))
add("year", *normal_of(prices["each_year"]))
for kind in ("sale", "wording"):
    for entry in market[kind]:
        if "fetches" in entry:
            add((kind, entry["id"]), *normal_of(entry["fetches"]))
for works in sorted(set(WORKS.values())):
    add(("works", works), 0, np.log(factor(prices["works_apart"])))
for maker in WORKS:
    add(("maker", maker), 0, np.log(factor(prices["makers_apart"])))
mean, covariance = np.array(means), np.diag(variances)


def row(size, grade, wording, sale, year, who):
    x = np.zeros(len(names))
    x[names.index("level")] = 1
    x[names.index("size")] = SIZES.index(size) - SIZES.index(usual["size"])
    x[names.index("grade")] = grade - usual["condition"]
    x[names.index("year")] = year - (usual["year"] + 0.5)
    for name in (("sale", sale), ("wording", wording), ("maker", who), ("works", WORKS.get(who, who))):
        if name in names:
            x[names.index(name)] = 1
    return x


def in_years(date):
    parts = date.split("-")
    return int(parts[0]) + ((int(parts[1]) - 0.5) / 12 if len(parts) > 1 else 0.5)


used = [s for s in sales if s["price_is"] == "sold" and s["hammer"] and s["condition"] and s["size"]]
X = np.array([
    row(s["size"], int(s["condition"]), s["wording"], s["sale"], in_years(s["sold"]), s["names"]) for s in used
])
y = np.log([float(s["hammer"]) for s in used])

# For every variance of a grid: its weight, and the mean and covariance of the coefficients.
experience, scatter = prices["scatter"]["seen"], np.log(factor(prices["scatter"]["say"]))
log_weights, given = [], []
for log_variance in np.linspace(np.log(scatter**2) - 6, np.log(scatter**2) + 6, GRID):
    variance = np.exp(log_variance)
    spread = X @ covariance @ X.T + variance * np.eye(len(y))
    residual = y - X @ mean
    prior = -experience / 2 * log_variance - experience * scatter**2 / (2 * variance)
    likelihood = -0.5 * np.linalg.slogdet(spread)[1] - 0.5 * residual @ np.linalg.solve(spread, residual)
    log_weights.append(prior + likelihood)
    gain = covariance @ X.T
    given.append((
        variance,
        mean + gain @ np.linalg.solve(spread, residual),
        covariance - gain @ np.linalg.solve(spread, gain.T),
    ))
weights = np.exp(np.array(log_weights) - max(log_weights))
weights /= weights.sum()


def quantiles(x):
    centre = np.array([x @ b for _, b, _ in given])
    sd = np.sqrt([x @ c @ x + variance for variance, _, c in given])

    def at(p):
        share = lambda t: (weights * norm.cdf((t - centre) / sd)).sum() - p
        return np.exp(brentq(share, centre.mean() - 12, centre.mean() + 12, xtol=1e-13))

    return [at(p) for p in QUANTILES]


out = csv.writer(sys.stdout, lineterminator="\n")
out.writerow(["definition", "wording", "names", "5%", "25%", "50%", "75%", "95%"])
for definition, sale in (("auction estimate", "regional auction"), ("specialist estimate", "specialist auction")):
    for wording, who in (("marked", "K02"), ("attributed", "K01"), ("works", "Lantern Works"), ("not identified", "")):
        figures = quantiles(row("IV", 4, wording, sale, EFFECTIVE, who))
        out.writerow([definition, wording, who] + [f"{figure:.8f}" for figure in figures])

"""Fit the correction on the looks at the training stills.

Five networks, each fitted without a fifth of the stills, together are the correction; what each
says of the fifth it has not seen teaches one more network how large the errors are.
"""

import numpy as np
from sklearn.neural_network import MLPRegressor

from stance.correction import ERRORS, TARGETS, Network, errors_of, run_network
from tests.training.dataset import Dataset

FOLDS = 5
SEED = 20261125
HIDDEN = (192, 96)
# A normal error's mean log size lies below the log of its standard deviation by this
# ((Euler's constant + log 2) / 2, the mean of log |z|).
MEAN_LOG_SIZE = 0.5 * (np.euler_gamma + np.log(2.0))
SMALLEST_ERROR = 1e-3


def _network(regressor: MLPRegressor, x_mean: np.ndarray, x_scale: np.ndarray,
             y_mean: np.ndarray, y_scale: np.ndarray) -> Network:
    """Take the numbers of a fitted regressor over."""
    return Network(
        x_mean.astype(np.float32), x_scale.astype(np.float32),
        tuple(w.astype(np.float32) for w in regressor.coefs_),
        tuple(b.astype(np.float32) for b in regressor.intercepts_),
        y_mean.astype(np.float32), y_scale.astype(np.float32))


def fit_network(x: np.ndarray, y: np.ndarray, hidden: tuple[int, ...], alpha: float,
                seed: int, noise: float, epochs: int) -> Network:
    """Fit one network on standardised features, with noise added to make it rely on many.

    Parameters
    ----------
    x : (rows, features)
    y : (rows, targets)
    hidden : sizes of the hidden layers
    alpha : weight penalty
    seed : of weights, batches and noise
    noise : standard deviation of the noise, in standard deviations of each feature
    epochs : passes over the data
    """
    rng = np.random.default_rng(seed)
    x_mean, x_scale = x.mean(axis=0), x.std(axis=0) + 1e-6
    y_mean, y_scale = y.mean(axis=0), y.std(axis=0) + 1e-9
    standard = np.clip((x - x_mean) / x_scale, -6, 6)
    wanted = (y - y_mean) / y_scale
    regressor = MLPRegressor(hidden_layer_sizes=hidden, alpha=alpha, learning_rate_init=2e-3,
                             batch_size=256, random_state=seed)
    for epoch in range(epochs):
        if hasattr(regressor, "_optimizer"):
            # A half cosine: large steps first, none at the end.
            regressor._optimizer.learning_rate_init = 1e-3 * (1 + np.cos(np.pi * epoch / epochs))
        noisy = standard + noise * rng.standard_normal(standard.shape)
        regressor.partial_fit(noisy, wanted)
    return _network(regressor, x_mean, x_scale, y_mean, y_scale)


def fit(data: Dataset, hidden: tuple[int, ...] = HIDDEN, alpha: float = 0.1,
        noise: float = 0.1, epochs: int = 30) -> tuple[list[Network], Network, np.ndarray]:
    """Fit the correction.

    Returns
    -------
    the networks of the folds, the network of the errors, and (rows, targets) what was said of
    each row by the network that had not seen it
    """
    folds = np.random.default_rng(SEED).permutation(data.still.max() + 1) % FOLDS
    unseen = np.empty_like(data.targets)
    networks = []
    for fold in range(FOLDS):
        out = folds[data.still] == fold
        network = fit_network(data.features[~out], data.targets[~out], hidden, alpha,
                              SEED + fold, noise, epochs)
        unseen[out] = run_network(network, data.features[out])
        networks.append(network)
    sizes = np.log(np.abs(errors_of(unseen, data.targets)) + SMALLEST_ERROR) + MEAN_LOG_SIZE
    errors = fit_network(data.features, sizes, (64,), 1e-2, SEED, 0.1, 15)
    assert data.targets.shape[1] == len(TARGETS) and sizes.shape[1] == len(ERRORS)
    return networks, errors, unseen


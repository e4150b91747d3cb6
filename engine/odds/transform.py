"""Sums of independent results in float64, by direct convolution or by Fourier transform where that is safe."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

DIRECT_WIDTH = 1_200
"""Width of a repeated sum up to which convolution is used: it keeps the full relative precision of the tails."""

NOISE = 2.0**-51
"""Mass below this cannot be told from the rounding error of a transform and is set to 0."""

ERROR_LIMIT = 1e-12


def good_length(at_least: int) -> int:
    """Return the smallest 2**a, 3 * 2**a or 5 * 2**a that is at least `at_least`: lengths that transform fast."""
    return min(base << max(0, (-(-at_least // base) - 1).bit_length()) for base in (1, 3, 5))


def convolve(left: Floats, right: Floats) -> Floats:
    """Return the mass of the sum of two independent results.

    Short or unequal arrays are convolved directly. Two long ones go through a Fourier transform, whose error
    in each value is then below 16 * 2**-53 * log2(length) times the product of the two Euclidean norms, under
    1e-13 for every length that fits in memory.
    """
    import numpy as np

    if min(len(left), len(right)) <= 64 or len(left) * len(right) <= 250_000:
        return np.convolve(left, right)
    width = len(left) + len(right) - 1
    length = good_length(width)
    return _cleaned(np.fft.irfft(np.fft.rfft(left, length) * np.fft.rfft(right, length), length)[:width])


def power(mass: Floats, times: int) -> Floats:
    """Return the mass of the sum of `times` (>= 1) independent results.

    Up to `DIRECT_WIDTH` values the sum is built by repeated doubling with convolution. A wider one goes
    through a Fourier transform, and only where the bound on its rounding error, 16 * times * 2**-53 *
    mean(|transform|), is below 1e-12; otherwise it is convolved as well. Values under `NOISE` come back as 0.
    """
    import numpy as np

    width = times * (len(mass) - 1) + 1
    if width > DIRECT_WIDTH and times > 1:
        length = good_length(width)
        spectrum = _raised(np.fft.rfft(mass, length), times)
        if 16 * times * 2.0**-53 * float(np.abs(spectrum).mean()) < ERROR_LIMIT:
            return _cleaned(np.fft.irfft(spectrum, length)[:width])
    answer = mass
    for bit in bin(times)[3:]:
        answer = np.convolve(answer, answer)
        if bit == "1":
            answer = np.convolve(answer, mass)
    return answer


def keep_highest(mass: Floats, reached: Floats, dice: int, kept: int) -> Floats:
    """Return the mass of the sum of the `kept` highest of `dice` independent results.

    The same sorting of outcomes as `counts.keep_highest`, with all values at once and the free sums in
    Fourier space. Each term is a probability, so the error stays below 8 * dice * 2**-53 in each value:
    under 1e-12 for up to 1000 dice, which is as far as the notation goes.

    Args:
        mass: mass of one die over neighbouring integers.
        reached: chance of at most each of them, the last one exactly 1; its error is multiplied by `dice`.
        dice, kept: 1 <= kept <= dice <= 1000.
    Returns: `kept * (len(mass) - 1) + 1` values, from kept times the lowest value on.
    """
    import numpy as np

    if kept == 1:
        return np.diff(reached**dice, prepend=0.0)
    width = kept * (len(mass) - 1) + 1
    length = good_length(width)
    places = np.arange(len(mass))
    # Row t holds the mass above value t, moved so that value t itself would stand at 0.
    above = np.zeros((len(mass), len(mass)))
    for place in places:
        above[place, 1 : len(mass) - place] = mass[place + 1 :]
    spectra = np.fft.rfft(above, length, axis=1)
    below = np.concatenate(([0.0], reached[:-1]))
    lows = np.arange(dice - kept + 1)
    below_powers = below[:, None] ** lows
    here_powers = mass[:, None] ** np.arange(dice + 1)
    dice_choices = _binomials(dice, kept)
    scheme = np.zeros_like(spectra)
    for higher in range(kept - 1, -1, -1):
        rest = dice - higher
        ways = (below_powers * here_powers[:, rest - lows]) @ _binomials(rest, len(lows))
        scheme *= spectra
        scheme += (dice_choices[higher] * ways)[:, None]
    roots = np.exp(-2j * np.pi / length * np.arange(length))
    turns = roots[(np.arange(spectra.shape[1])[None, :] * (kept * places)[:, None]) % length]
    return _cleaned(np.fft.irfft((scheme * turns).sum(axis=0), length)[:width])


def _binomials(of: int, number: int) -> Floats:
    """Return the ways to choose 0, 1, ... (so many) of some dice; the error grows by one rounding or two with each."""
    import numpy as np

    picked = np.arange(1, number)
    return np.concatenate((np.ones(1), np.cumprod((of + 1 - picked) / picked)))


def _raised(spectrum: NDArray[np.complex128], times: int) -> NDArray[np.complex128]:
    """Return the elementwise power by squaring: faster than the library's complex power, and no less exact."""
    answer = spectrum
    for bit in bin(times)[3:]:
        answer = answer * answer
        if bit == "1":
            answer = answer * spectrum
    return answer


def _cleaned(mass: Floats) -> Floats:
    """Return the mass without the noise of a transform, summing to 1 again."""
    mass[mass < NOISE] = 0.0
    mass /= mass.sum()
    return mass

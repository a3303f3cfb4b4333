"""How far a number may lie off by chance: limits that three standard deviations stand for.

All limits hold with probability 0.9973, which is that of three standard deviations of a normal
distribution. They are quantiles of Student's and of the chi-squared distribution.
"""

from __future__ import annotations

NORMAL_LIMIT = 3.0

# Student's distribution, two-sided, by degrees of freedom from 1; from 9 on three is near enough.
_STUDENT = (235.784, 19.206, 9.219, 6.620, 5.507, 4.904, 4.530, 4.277)

# Chi-squared, by degrees of freedom from 1.
_CHI_SQUARED = (9.0, 11.829, 14.156)


def find_student_limit(freedom: int) -> float:
    """Return by how many estimated standard deviations a number may be off.

    Args:
        freedom: degrees of freedom of the estimate; three from 9 on (common practice, no source).
    """
    if freedom < 1:
        return float("inf")
    return _STUDENT[freedom - 1] if freedom <= len(_STUDENT) else NORMAL_LIMIT


def find_squared_limit(components: int) -> float:
    """Return how large a sum of squared standardised differences may be by chance.

    Args:
        components: how many are summed, 1 to 3.
    """
    return _CHI_SQUARED[components - 1]

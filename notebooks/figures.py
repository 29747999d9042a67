# SPDX-License-Identifier: MIT
"""What the figures of the notebooks share: three colours that colour-blind eyes tell apart, bands, limits.

The colours differ in lightness as much as in hue: in CIE Lab any two are 25 or more apart with full sight, without the
long-wave cones and without the middle-wave cones (Machado et al. 2009, from memory). Each curve has a dash of its own too, and
is named beside it, so that a print in grey can be read.
"""

import matplotlib.pyplot as plt

INK, OCHRE, PLUM, GREY = "#1b3a5c", "#c8861a", "#9a6a9e", "#6b6b6b"
DASHES = {INK: "-", OCHRE: (0, (6, 2)), PLUM: (0, (2, 1.5)), GREY: (0, (1, 2))}

plt.rcParams.update(
    {
        "figure.dpi": 110,
        "font.size": 10,
        "axes.spines.top": False,
        "axes.spines.right": False,
        "axes.titlelocation": "left",
        "axes.titlesize": 11,
        "legend.frameon": False,
    }
)


def panels(count=1, width=5.2, height=3.6):
    """``count`` panels side by side, each ``width`` × ``height`` inches: the figure and a list of its axes."""
    figure, axes = plt.subplots(
        1, count, figsize=(width * count, height), constrained_layout=True, squeeze=False
    )
    return figure, list(axes[0])


def curve(ax, x, y, colour, label=None):
    """A curve in one of the colours, with the dash that belongs to it."""
    ax.plot(x, y, color=colour, linestyle=DASHES[colour], linewidth=2, label=label)


def band(ax, x, low, high, colour, label=None):
    """The span from ``low`` to ``high`` along ``x``: how far what is shown might be off."""
    ax.fill_between(x, low, high, color=colour, alpha=0.22, linewidth=0, label=label)


def limit(ax, value, text):
    """A level line at ``value``, with its meaning above its right end."""
    ax.axhline(value, color=GREY, linewidth=1)
    ax.annotate(
        text,
        (1, value),
        xycoords=("axes fraction", "data"),
        xytext=(0, 3),
        textcoords="offset points",
        ha="right",
        color=GREY,
    )

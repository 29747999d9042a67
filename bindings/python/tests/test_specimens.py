# SPDX-License-Identifier: MIT
"""Specimens from Python: objects, results in their own units, what is refused."""

import numpy as np
import pandas as pd
import pytest

import arris


def pins(**specimen):
    return arris.Configuration(
        specimen=arris.Specimen(quantity="flank wear", per="minute", reference_load_N=10, load_exponent=1.5, **specimen),
        counterface={"dry": arris.Counterface(), "oil": arris.Counterface(wear_factor=0.1)},
        tool={"insert": arris.Tool(kind="specimen")},
        edge={
            "A": arris.Edge(tool="insert", steps=[arris.wears("dry", minutes=40, load_N=10)]),
            "B": arris.Edge(tool="insert", steps=[arris.wears("oil", minutes=40, load_N=40)]),
        },
        wear={"law": "constant-rate", "rate_um_per_m": 9.0},
        output=arris.Output(wear_limit_um=180),
    )


def test_wear_is_had_in_its_own_units():
    result = arris.simulate(pins(unit="mm"))
    track = result.track("B")
    assert track["wear_mm"].attrs["units"] == "mm" and track["minutes"].attrs["units"] == "min"
    # Archard by hand: products and a power, to some ulp
    assert np.allclose(track["wear_mm"], 9e-3 * 0.1 * 8 * track["minutes"], rtol=1e-12, atol=1e-15)
    edges = result.to_pandas("edges")
    assert list(edges["quantity"]) == ["flank wear", "flank wear"]
    # an integration to 1e-6 has its root there
    assert edges["minutes_to_limit"][0] == pytest.approx(20, rel=1e-6)
    assert "gf" not in result.text and "passes" not in result.text


def test_readings_of_a_frame_are_fitted():
    plain = pins(noise="additive")
    plain.wear = {"law": "constant-rate"}
    # on the line but for a pattern of ±1 µm
    minutes = np.array([0, 10, 20, 30, 40])
    off = np.array([0.6, -1.0, 1.0, -0.8, 0.7])
    frame = pd.concat(
        pd.DataFrame({"specimen": name, "minutes": minutes, "wear_um": rate * minutes + off}) for name, rate in (("A", 9.0), ("B", 7.2))
    )
    campaign = arris.loads(plain.to_toml()).with_readings(frame)
    fit = arris.fit(campaign, starts=2, draws=200, no_profiles=True)
    assert fit.converged
    assert sorted(fit.parameters["parameter"].values) == ["counterface.oil.wear_factor", "specimen.load_exponent", "wear.rate_um_per_m"]
    # 9 µm/min by five readings that are off by 1 µm: 1/√Σt² = 0.02 µm/min, and specimens that may differ by some per cent
    assert float(fit.estimates["wear.rate_um_per_m"]) == pytest.approx(9.0, rel=0.2)
    assert 0.3 < fit.attributes["sd_readings_um"] < 3
    forecast = arris.forecast(campaign, edge="A", fit=fit)
    lives = forecast.to_pandas("lives")
    assert lives["minutes"][0] == pytest.approx(20, rel=0.2)
    assert "wear_um" in forecast.to_pandas("curves")


@pytest.mark.parametrize("study", [arris.compare, arris.upkeep, arris.plan])
def test_what_is_of_blades_is_refused(study):
    with pytest.raises(arris.ConfigurationError) as error:
        study(pins())
    assert error.value.code == "not-of-specimens"


def test_numbers_of_blades_in_wood_are_no_rates_of_specimens():
    plain = pins()
    plain.wear = {}
    with pytest.raises(arris.ConfigurationError) as error:
        arris.simulate(plain)
    assert error.value.code == "no-rate"

"""What used to fail, hang or be passed over without a word, each by name."""

from __future__ import annotations

import os
import re
import socket
import subprocess
import sys
import threading
import time
from pathlib import Path

import pytest

from solidify.case import demo_case, parse_case
from solidify.cli import main
from solidify.cli.terminal import announced_compiling
from solidify.errors import InputError
from solidify.files import reserved
from solidify.strand.solve import solve

CASES = Path(__file__).parents[2] / "cases"
BILLET = (CASES / "billet.toml").read_text(encoding="utf-8")


def of_zones(count):
    """The billet with so many zones between mould and 8.2 m."""
    head, _, rest = BILLET.partition("[[zone]]")
    tail = rest[rest.index("[machine]") :]
    zones = "".join(
        f'[[zone]]\nname = "zone {i}"\nend_m = {1 + 7.2 * (i + 1) / count:.5f}\nwater_flux_L_per_m2s = {1 + i % 3}\n'
        for i in range(count)
    )
    return head + zones + tail


@pytest.mark.parametrize("count", [47, 100, 200])
def test_the_names_of_many_zones_find_their_place(count):
    """From 48 zones on the page, and from 100 on the pictures, ended in a traceback."""
    from solidify.plots.ruler import plan_ruler

    result = solve(parse_case(of_zones(count)))
    ruler = plan_ruler(result, 150.0)
    assert ruler.below[0].text == "mould"
    assert len(ruler.below) == len(range(0, count + 1, ruler.named_of)) > 20
    assert len(ruler.rows) <= 8


def test_pictures_of_two_hundred_zones_are_drawn(tmp_path, monkeypatch, capsys):
    from solidify.plots import draw_strand

    figure = draw_strand(solve(parse_case(of_zones(200))), None)
    said = [text.get_text() for text in figure.findobj(lambda a: hasattr(a, "get_text"))]
    assert any(re.fullmatch(r"one zone in\n\d+ named", text) for text in said)


def test_thousands_of_zones_are_refused_at_once():
    with pytest.raises(InputError, match="1 to 200 entries") as refused:
        parse_case(of_zones(2_000), "many.toml")
    assert len(str(refused.value)) < 500


@pytest.mark.parametrize("carbon", [0.05, 0.2])
def test_a_solidus_far_from_the_composition_is_refused(carbon):
    """0.05 %C with solidus_C = 1000: the enthalpy fell with the temperature, and a ValueError rose."""
    from solidify.steel import steel_from_composition

    with pytest.raises(InputError, match=r"solidus: 1000\.0 degC"):
        steel_from_composition({"C": carbon, "Mn": 0.7}, solidus=1000.0)
    own = steel_from_composition({"C": carbon, "Mn": 0.7}).solidus
    assert steel_from_composition({"C": carbon, "Mn": 0.7}, solidus=own - 60).solidus == own - 60


def test_heat_of_a_strand_that_solidifies_in_the_mould_is_told_in_words():
    """It read `water nan, radiation nan`."""
    from solidify.report.mould import shares_text

    case = demo_case("slab")
    flux = [k for k in case.mould.model_fields_set if k.startswith(("water", "copper", "expected", "mean"))]
    changes = {"section.product": "slab", "section.thickness_mm": 100, "casting.speed_m_per_min": 0.06}
    drop = {f"mould.{key}": None for key in flux}
    result = solve(case.replace(drop | changes))
    assert result.summary["metallurgical_length"] < result.case.working_length
    assert shares_text(result) == "all of it in the mould, where the section solidifies through"


@pytest.mark.parametrize(
    ("key", "value", "said"),
    [
        ("mean_heat_flux_MW_per_m2 = 4.0", 4.0, "above 0 and below 4 MW/m²"),
        ("mean_heat_flux_MW_per_m2 = 3.9", 3.9, ""),
        ("mean_heat_flux_MW_per_m2 = 4.5\npeak_heat_flux_MW_per_m2 = 5", 4.5, ""),
        ('mean_heat_flux_MW_per_m2 = 5.0\nprofile = "root"', 5.0, "above 0 and below 5 MW/m²"),
        ("mean_heat_flux_at_speed = [[1, 2.0], [2, 4.2]]", 4.2, "above 0 and below 4 MW/m²"),
    ],
)
def test_the_case_file_takes_the_mould_flux_that_the_run_takes(key, value, said):
    text = re.sub(r"(?m)^(water_|copper_wall|expected_mean)(?!temp).*\n", "", BILLET.split("[[zone]]")[0])
    text = text.replace("[mould]\n", f"[mould]\n{key}\n") + BILLET[BILLET.index("[[zone]]") :]
    if said:
        with pytest.raises(InputError, match=re.escape(said)) as refused:
            parse_case(text, "a.toml")
        assert f"{value:g} MW/m²" in str(refused.value)
    else:
        assert abs(float(solve(parse_case(text)).mould.mean_flux) / (value * 1e6) - 1) < 0.01


def test_a_march_that_cannot_be_kept_is_told_with_its_remedy(monkeypatch, capsys):
    from solidify.solver import kernels

    compiled = kernels.njit

    def without_a_folder(**options):
        if options.get("cache"):
            raise RuntimeError("cannot cache function: no locator available")
        return compiled(**options)

    monkeypatch.setattr(kernels, "njit", without_a_folder)
    kept = kernels._compiled(lambda x: x)
    with announced_compiling(kept):
        pass
    assert "NUMBA_CACHE_DIR" in capsys.readouterr().err
    with announced_compiling():
        pass
    assert capsys.readouterr().err == ""


@pytest.mark.parametrize("backend", ["module://a_notebook_that.is_not_here", "svg"])
def test_the_backend_of_a_notebook_elsewhere_does_not_stop_a_picture(backend):
    code = "import os, solidify.plots, matplotlib as m; print(os.environ['MPLBACKEND'], m.rcParams._get('backend'))"
    done = subprocess.run(
        [sys.executable, "-c", code],
        env=os.environ | {"MPLBACKEND": backend},
        capture_output=True,
        text=True,
    )
    assert done.returncode == 0, done.stderr
    assert done.stdout.split()[0] == backend
    assert (done.stdout.split()[1] == "svg") is (backend == "svg")


def test_a_second_tune_or_ceiling_on_one_output_is_told(tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    for name in ("billet.toml", "billet-target.toml"):
        (tmp_path / name).write_text((CASES / name).read_text(encoding="utf-8"), encoding="utf-8")
    Path("rows.toml").write_text('case = "billet.toml"\n[vary]\n"casting.superheat_K" = [20]\n')
    for verb, held in (
        (("tune", "billet.toml", "billet-target.toml"), "billet-tuned.toml"),
        (("ceiling", "rows.toml", "--no-bands"), "rows-speeds.html"),
    ):
        with reserved(held):
            assert main(list(verb)) == 2
        assert f"{held}: another command is writing it now" in capsys.readouterr().err
    names = {"billet.toml", "billet-target.toml", "rows.toml"}
    assert {p.name for p in tmp_path.iterdir()} == names


def _silent(line):
    line.recv(1)


def _closes(line):
    line.close()


def _banner(line):
    line.sendall(b"SSH-2.0-a service\r\n")
    line.recv(1)


def _endless(line):
    while True:
        line.sendall(bytes(65536))


def _unfinished(line):
    line.sendall((300).to_bytes(8, "little") + b"pickle-protocol")
    line.recv(1)


@pytest.mark.parametrize("service", [_silent, _closes, _banner, _endless, _unfinished])
def test_a_port_of_another_service_is_no_scheduler(service, monkeypatch):
    """The first bytes of any service were taken for a length: a MemoryError, or no end."""
    from solidify.study import cluster

    monkeypatch.setattr(cluster, "ANSWER", 0.5)
    with socket.create_server(("127.0.0.1", 0)) as server:

        def serve():
            line, _ = server.accept()
            with line:
                try:
                    service(line)
                except OSError:
                    return

        thread = threading.Thread(target=serve, daemon=True)
        thread.start()
        began = time.monotonic()
        with (
            pytest.raises(InputError, match="no scheduler answers"),
            cluster.cluster(f"tcp://127.0.0.1:{server.getsockname()[1]}"),
        ):
            pass
        assert time.monotonic() - began < 8  # half a second, and the library's import
        thread.join(5)
        assert not thread.is_alive()

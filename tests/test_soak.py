"""A small part of the soak; all of it: python -m tests.soak."""

from pathlib import Path

from tests.soak import Soak


def test_every_press_on_a_bad_network_is_accounted_for_and_nothing_grows(
    tmp_path: Path,
) -> None:
    soak = Soak(2000, seed=5)
    soak.run(tmp_path)
    assert soak.exit_code == 0
    assert soak.unaccounted == 0, soak.report()
    # The faults were there, and so was every way to end.
    assert {"lost", "late", "doubled", "restarts"} <= set(+soak.fates), soak.report()
    assert {"arrived", "superseded", "refused"} <= set(soak.ends), soak.report()
    half, end = soak.stands[50], soak.stands[100]
    assert end.files == half.files
    assert end.threads == half.threads
    # Plans and the planner's memory have limits, and still fill; a leak of 4 kB a
    # press would be 4 MB more.
    assert end.rss_kb - half.rss_kb < 8_000, soak.report()

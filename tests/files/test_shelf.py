"""The profiles are found wherever Treadle was installed from."""

from pathlib import Path

from bridge.files.shelf import profile_folders, shipped_profiles, shipped_studios

ROOT = Path(__file__).resolve().parents[2]


def test_a_source_tree_keeps_its_profiles_beside_the_package() -> None:
    assert shipped_profiles() == ROOT / "profiles"
    assert shipped_studios() == ROOT / "profiles" / "studios"


def test_an_installed_package_carries_its_profiles_inside(tmp_path: Path) -> None:
    package = tmp_path / "bridge"
    (package / "profiles_data").mkdir(parents=True)
    (tmp_path / "profiles").mkdir()  # of some other package: not ours
    assert shipped_profiles(package) == package / "profiles_data"


def test_own_profiles_beside_the_studio_file_come_first(tmp_path: Path) -> None:
    own = tmp_path / "profiles"
    own.mkdir()
    folders = profile_folders(tmp_path / "studio.yaml")
    assert folders == (own, ROOT / "profiles")


def test_a_studio_file_without_own_profiles_uses_the_shipped(tmp_path: Path) -> None:
    assert profile_folders(tmp_path / "studio.yaml") == (ROOT / "profiles",)
    assert profile_folders() == (ROOT / "profiles",)


def test_no_folder_is_looked_through_twice() -> None:
    assert profile_folders(ROOT / "studio.yaml") == (ROOT / "profiles",)

"""A stranger checks a job by the printed recipe, with a shell, sha256sum and openssl only."""

import re
import shutil
import subprocess
from pathlib import Path

import pytest
from steplatch.runner.record import JobFolder, verify
from steplatch.runner.record.attachments import keep_file
from steplatch.runner.record.keys import SigningKey
from steplatch.runner.record.seal import make_seal

from tests.played import Played

KEY = SigningKey(b"w" * 32)
RECIPE = Path(__file__).parents[2] / "runner" / "record" / "README.md"


def parts() -> list[str]:
    """The recipe's four parts, as they stand in the text."""
    return re.findall(r"```sh\n(.*?)```", RECIPE.read_text("utf-8"), re.S)


def run(part: int, folder: Path) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        ["sh", "-c", parts()[part]], cwd=folder, capture_output=True, text=True, timeout=60
    )


@pytest.fixture(scope="module")
def sealed(good: Played, tmp_path_factory: pytest.TempPathFactory) -> JobFolder:
    if shutil.which("openssl") is None:
        pytest.skip("the recipe needs the openssl program, which is not installed here")
    folder = JobFolder(tmp_path_factory.mktemp("jobs") / good.folder.id)
    shutil.copytree(good.folder.path, folder.path)
    photo = folder.path.parent / "photo.bin"
    photo.write_bytes(b"\x00\x01\x02")
    keep_file(folder, photo, "a photo")
    make_seal(folder, verify(folder.path), "finished", "later", "2026-03-02T12:00:00Z", KEY)
    return folder


def test_the_recipe_has_the_four_parts_that_it_names() -> None:
    assert len(parts()) == 4


def test_an_intact_job_passes_every_part(sealed: JobFolder) -> None:
    signature, key, chain, files = (run(part, sealed.path) for part in range(4))
    assert signature.returncode == 0 and "Verified Successfully" in signature.stdout
    assert key.stdout.splitlines() == [KEY.public.short, f"key: {KEY.public.short}"]
    assert chain.stdout == "the journal is the one that was sealed\n"
    assert files.returncode == 0 and files.stdout == ""


def test_a_change_anywhere_is_refused_by_one_part(sealed: JobFolder, tmp_path: Path) -> None:
    def changed(name: str, edit: bytes) -> JobFolder:
        folder = JobFolder(tmp_path / name.replace("/", "-") / sealed.id)
        shutil.copytree(sealed.path, folder.path)
        path = next(folder.path.glob(name))
        path.write_bytes(path.read_bytes().replace(edit, b"7", 1))
        return folder

    assert run(0, changed("seal/statement.txt", b"2").path).returncode != 0
    assert run(2, changed("journal.jsonl", b"2").path).stdout != (
        "the journal is the one that was sealed\n"
    )
    assert run(3, changed("texts/*.yaml", b"a").path).returncode != 0
    assert run(3, changed("attachments/*", b"\x01").path).returncode != 0

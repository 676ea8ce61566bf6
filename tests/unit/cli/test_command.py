"""The hatchery command: what it makes, serves, copies, puts back and refuses."""

import os
import sqlite3
import subprocess
import sys
from contextlib import closing
from datetime import UTC, datetime

import pytest
from click.testing import CliRunner

from hatchery_app.app import create_app
from hatchery_app.cli import main
from hatchery_app.cli.demo import MARKER
from hatchery_app.settings import (
    Settings,
    SettingsRefused,
    lan_address,
    read_settings,
    refuse_shared_folder,
)
from tests.server import fetched, started


@pytest.fixture
def hatchery(tmp_path, monkeypatch):
    """Run the command over a folder of its own."""
    for name in [name for name in os.environ if name.startswith("HATCHERY_")]:
        monkeypatch.delenv(name)

    def run(*words, folder=tmp_path / "room"):
        return CliRunner().invoke(main, [*words, "--folder", str(folder)])

    return run


def test_a_copy_made_is_put_back_and_the_records_are_sound(hatchery, tmp_path):
    copy = tmp_path / "carried away.db"
    made = CliRunner().invoke(main, ["backup", "--folder", str(tmp_path / "room"), str(copy)])
    assert (made.exit_code, copy.exists()) == (0, True), made.output
    restored = CliRunner().invoke(main, ["restore", "--folder", str(tmp_path / "room"), str(copy)])
    assert restored.exit_code == 0
    assert "What stood there before is kept in" in restored.output
    checked = hatchery("check")
    assert (checked.exit_code, checked.output.count("\n")) == (0, 1)
    assert checked.output.startswith("Sound: 0 facts in 0 entries")


def test_a_restored_file_of_something_else_is_refused(hatchery, tmp_path):
    (tmp_path / "letter.db").write_text("Dear Ines")
    refused = CliRunner().invoke(
        main, ["restore", "--folder", str(tmp_path / "room"), str(tmp_path / "letter.db")]
    )
    assert refused.exit_code == 1
    assert "cannot be put back" in refused.output


@pytest.mark.parametrize(
    ("tables", "said"),
    [
        ("entry (seq INTEGER)", "holds no day-book of this program"),
        ("alembic_version (version_num TEXT)", "holds no day-book of this program"),
        ("both", "written by a newer program"),
    ],
)
def test_records_this_program_cannot_open_never_take_the_place_of_its_own(
    hatchery, tmp_path, tables, said
):
    hatchery("backup", str(tmp_path / "mine.db"))
    foreign = tmp_path / "foreign.db"
    with closing(sqlite3.connect(foreign)) as made:
        if tables == "both":
            made.execute("CREATE TABLE entry (seq INTEGER)")
            made.execute("CREATE TABLE alembic_version (version_num TEXT)")
            made.execute("INSERT INTO alembic_version VALUES ('r9999')")
        else:
            made.execute(f"CREATE TABLE {tables}")
        made.commit()
    refused = hatchery("restore", str(foreign))
    assert (refused.exit_code, said in refused.output) == (1, True), refused.output
    assert hatchery("check").output.startswith("Sound: 0 facts")


def test_a_folder_said_before_the_verb_is_the_verbs_own(hatchery, tmp_path, monkeypatch):
    monkeypatch.setenv("HATCHERY_FOLDER", str(tmp_path / "another"))
    room, copy = tmp_path / "room", tmp_path / "copy.db"
    made = CliRunner().invoke(main, ["--folder", str(room), "backup", str(copy)])
    assert made.exit_code == 0, made.output
    assert (room / "hatchery.db").exists()
    assert not (tmp_path / "another").exists()


def test_records_that_are_broken_are_told_in_one_line_with_exit_1(hatchery, tmp_path):
    hatchery("backup")
    file = tmp_path / "room" / "hatchery.db"
    with closing(sqlite3.connect(file)) as writer:
        writer.execute("PRAGMA journal_mode=DELETE")
    file.write_bytes(b"water got in" * 500)
    checked = hatchery("check")
    assert (checked.exit_code, checked.output.count("\n")) == (1, 1)
    assert checked.output.startswith("Not sound: ")


def test_a_folder_without_records_is_not_called_sound(hatchery):
    assert hatchery("check").exit_code == 1


def test_the_lan_is_refused_until_the_owner_has_a_password(tmp_path, hatchery):
    refused = hatchery("--host", "0.0.0.0")
    assert refused.exit_code == 1
    assert "Nobody has set the owner's password yet" in refused.output


def test_the_demo_is_not_made_over_a_rooms_own_records(hatchery, tmp_path):
    hatchery("backup")
    refused = hatchery("demo")
    assert refused.exit_code == 1
    assert "holds a room's own records" in refused.output
    assert not (tmp_path / "room" / MARKER).exists()


def test_a_room_begins_with_one_command_keeps_its_port_and_stops_without_a_complaint(tmp_path):
    """One start for all that is asked of a program at work: it takes seconds."""
    folder = tmp_path / "room"
    with started(folder=folder) as program:
        address = program.address
        assert fetched(f"{address}/health")[2] == "ok"
        assert "A new room" in fetched(f"{address}/")[2]
        with closing(sqlite3.connect(folder / "hatchery.db")) as reader:
            assert reader.execute("PRAGMA journal_mode").fetchone() == ("wal",)
        second = subprocess.run(
            [sys.executable, "-m", "hatchery_app", "--folder", str(tmp_path / "two"),
             "--port", address.rsplit(":", 1)[1]],
            capture_output=True, text=True, check=False,
        )  # fmt: skip
        assert second.returncode == 1
        assert "Is the program running already?" in second.stderr
        restored = CliRunner().invoke(main, ["restore", "--folder", str(folder), "copy.db"])
        assert "are being served. Stop that program first." in restored.output
        assert program.stopped() == 0
    assert {path.name for path in folder.iterdir()} == {"hatchery.db", "secret", "copies"}
    (copy,) = (folder / "copies").iterdir()
    said = program.log.read_text().splitlines()
    assert said == [f"Copy:    {copy}", f"Records: {folder}", f"Pages:   {address}/"]


@pytest.mark.parametrize("kind", ["nfs4", "cifs", "fuse.sshfs", "fuse"])
def test_records_on_another_machines_disk_are_refused_with_the_reason(tmp_path, kind):
    mounts = tmp_path / "mounts"
    mounts.write_text(f"disk / ext4 rw 0 0\nfar {tmp_path} {kind} rw 0 0\n")
    with pytest.raises(SettingsRefused, match="two writers cannot see each other"):
        refuse_shared_folder(tmp_path / "room", mounts)


@pytest.mark.parametrize("kind", ["ext4", "btrfs", "fuseblk", "overlay"])
def test_records_on_a_disk_of_this_machine_are_served(tmp_path, kind):
    mounts = tmp_path / "mounts"
    mounts.write_text(f"far / nfs rw 0 0\ndisk {tmp_path} {kind} rw 0 0\n")
    refuse_shared_folder(tmp_path / "room", mounts)


def test_the_secret_is_made_once_and_kept_from_others(tmp_path):
    first, second = (read_settings({}, folder=tmp_path) for _ in range(2))
    assert first.secret == second.secret
    assert (tmp_path / "secret").stat().st_mode & 0o077 == 0


@pytest.mark.parametrize(
    ("environ", "sentence"),
    [
        ({"HATCHERY_PORT": "eighty"}, "a port is a number"),
        ({"HATCHERY_PRETEND_NOW": "2026-11-24T20:30+00:00"}, "for the demo only"),
    ],
)
def test_a_bad_setting_stops_the_start_with_its_sentence(tmp_path, environ, sentence):
    with pytest.raises(SettingsRefused, match=sentence):
        read_settings(environ, folder=tmp_path)


def test_the_demo_on_one_machine_with_a_room_does_not_sign_its_keeper_out(tmp_path):
    named = {
        create_app(read_settings({}, folder=tmp_path, demo=demo)).config["SESSION_COOKIE_NAME"]
        for demo in (True, False)
    }
    assert len(named) == 2


def test_the_demo_may_pretend_its_clock_but_not_without_its_offset(tmp_path):
    moment = {"HATCHERY_PRETEND_NOW": "2026-11-24T20:30+00:00"}
    pretended = read_settings(moment, folder=tmp_path, demo=True).pretend_now
    assert pretended == datetime(2026, 11, 24, 20, 30, tzinfo=UTC)
    with pytest.raises(SettingsRefused, match="needs its offset"):
        read_settings({"HATCHERY_PRETEND_NOW": "2026-11-24T20:30"}, folder=tmp_path, demo=True)


def test_the_address_for_the_tablet_is_none_of_this_machine_alone():
    address = lan_address()
    assert address is None or not address.startswith("127.")


def test_a_room_served_on_loopback_is_served_here_only(tmp_path):
    def at(host):
        return Settings(folder=tmp_path, database_url="sqlite://", secret="x" * 64, host=host)

    assert at("127.0.0.1").is_served_here_only
    assert not at("192.168.1.5").is_served_here_only

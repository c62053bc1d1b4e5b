"""The commands that keep accounts."""

from typer.testing import CliRunner

from etl.account import book, keep
from etl.cli import app

PASSWORD = "copper kettle on the roof"


def test_accounts_are_kept_from_the_command_line(tmp_path):
    def run(*words, given=""):
        return CliRunner().invoke(app, ["account", *words, "--store", str(tmp_path)], input=given)

    made = run("add", "Ann", "--role", "keeper", given=f"{PASSWORD}\n{PASSWORD}\n")
    assert made.exit_code == 0, made.output
    assert PASSWORD not in made.output
    invited = run("invite", "Bo", "--role", "recorder")
    token = invited.output.split("/invitation/")[1].split()[0]
    assert keep.accept(tmp_path, token, PASSWORD) == book.Account("Bo", "recorder")
    assert run("role", "bo", "viewer").exit_code == 0
    assert "Bo\tviewer\tsessions open: 0" in run("list").output
    assert "sessions ended: 0" in run("end-sessions", "Bo").output
    assert "wrong passwords forgotten: 0" in run("unlock", "Bo").output
    assert run("remove", "Bo").exit_code == 0
    assert "Bo" not in run("list").output
    assert "last keeper" in str(run("remove", "Ann").exception)

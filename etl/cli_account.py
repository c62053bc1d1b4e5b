"""The commands that keep accounts."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Annotated

import typer

from etl.account import keep, sessions

app = typer.Typer(no_args_is_help=True, help="Keep the accounts of a store: who may come in.")
Store = Annotated[Path, typer.Option("--store", help="Folder that keeps logs and editions.")]
DEFAULT_STORE = Path(os.environ.get("BRAIDLIFE_STORE", "braidlife-store"))
Name = Annotated[str, typer.Argument(help="Name to sign in with.")]
Role = Annotated[str, typer.Option("--role", help="viewer reads, recorder also enters, keeper "
                                   "also loads files and keeps accounts.")]


@app.command("add")
def add(name: Name, role: Role, store: Store = DEFAULT_STORE) -> None:
    """Make an account; asks for its password. The first must be a keeper."""
    password = typer.prompt("Password (15 signs or more)", hide_input=True,
                            confirmation_prompt=True)
    keep.add(store, name, role, password)
    print(f"{name} is a {role} now")


@app.command("invite")
def invite(name: Name, role: Role = "viewer", store: Store = DEFAULT_STORE) -> None:
    """Print the end of a one-time link by which somebody sets a password; also a forgotten one."""
    token = keep.invite(store, name, role)
    print(f"/invitation/{token}\nPut the address of the pages before it. Good once, for "
          f"{keep.LINK_HOURS:.0f} hours; whoever has it can come in as {name}.")


@app.command("list")
def list_all(store: Store = DEFAULT_STORE) -> None:
    """Show all accounts."""
    for account, number in keep.accounts(store):
        print(f"{account.name}\t{account.role}\tsessions open: {number}")


@app.command("role")
def role_of(name: Name, role: Annotated[str, typer.Argument(help="The new role.")],
            store: Store = DEFAULT_STORE) -> None:
    """Give an account another role."""
    keep.change_role(store, name, role)
    print(f"{name} is a {role} now")


@app.command("remove")
def remove(name: Name, store: Store = DEFAULT_STORE) -> None:
    """Remove an account; what it entered stays."""
    keep.remove(store, name)
    print(f"{name} is removed")


@app.command("end-sessions")
def end_sessions(name: Name, store: Store = DEFAULT_STORE) -> None:
    """End all sessions of an account: it has to sign in again everywhere."""
    print(f"sessions ended: {sessions.end_all(store, name)}")


@app.command("unlock")
def unlock(name: Name, store: Store = DEFAULT_STORE) -> None:
    """Forget wrong passwords of an account, so that it can sign in at once."""
    print(f"wrong passwords forgotten: {keep.unlock(store, name)}")

"""The command that is the agent."""

from __future__ import annotations

import logging
import signal
from pathlib import Path
from types import FrameType

import click

from agent.cli.shared import Failure, config_option, main, unusable
from agent.service import CANNOT_START, Runner
from agent.settings import ConfigError


@main.command()
@config_option()
@click.option("--quiet", is_flag=True, help="Say only what goes wrong.")
def run(config: Path, quiet: bool) -> None:
    """Run the agent until it is told to end (Ctrl-C or SIGTERM); on SIGHUP it loads its file anew."""
    logging.basicConfig(level=logging.WARNING, format="%(asctime)s %(levelname)s %(message)s")
    logging.getLogger("agent").setLevel(logging.WARNING if quiet else logging.INFO)
    logging.getLogger("apscheduler").setLevel(logging.ERROR)
    runner = Runner(config)

    def end(number: int, frame: FrameType | None) -> None:
        runner.stop()

    def reload(number: int, frame: FrameType | None) -> None:
        runner.reload()

    signal.signal(signal.SIGINT, end)
    signal.signal(signal.SIGTERM, end)
    signal.signal(signal.SIGHUP, reload)
    try:
        runner.run()
    except ConfigError as error:
        raise unusable(error) from None
    except CANNOT_START as error:
        raise Failure(str(error)) from None
    except RuntimeError as error:
        raise click.ClickException(str(error)) from None

"""The bench stays on this machine and asks nobody outside."""

from streamlit import config

from tonematch.screens.settings import streamlit_flags


def test_the_bench_is_bound_to_this_machine_and_sends_nothing() -> None:
    flags = streamlit_flags()
    assert "--server.address=127.0.0.1" in flags
    assert "--browser.gatherUsageStats=false" in flags
    assert "--client.showErrorDetails=none" in flags


def test_streamlit_knows_every_setting() -> None:
    known = config.get_config_options()
    for flag in streamlit_flags():
        name = flag.removeprefix("--").partition("=")[0]
        assert name in known

"""A short run of mutated BUFR messages; the long one is a command of its own."""

from __future__ import annotations

from tests.fuzz.fuzz_bufr import corpus, mutated, run


def test_mutated_messages_never_end_the_reader():
    """Three thousand mutated messages in a child process: all are read, none ends it."""
    outcome = run(3000, seed=20310709)

    assert outcome.faults == []
    assert outcome.read == 3000


def test_a_run_is_fixed_by_its_seed():
    """The same place of the same run is the same message, so that a fault can be found again."""
    messages = corpus()

    assert mutated(messages, 5, 17) == mutated(messages, 5, 17)
    assert mutated(messages, 5, 17) != mutated(messages, 6, 17)

from agent.intake.mqtt.unacknowledged import Unacknowledged


def connected(*mids: int) -> Unacknowledged:
    """A connection that has brought these, a second apart."""
    waiting = Unacknowledged()
    waiting.begin(session_kept=False)
    for mid in mids:
        waiting.arrive(mid, mid * 1_000_000, 7, again=False)
    return waiting


def test_the_oldest_is_the_first_that_was_not_acknowledged() -> None:
    waiting = connected(1, 2, 3)
    waiting.acknowledge(2)
    assert waiting.oldest_us == 1_000_000
    waiting.acknowledge(1)
    assert waiting.oldest_us == 3_000_000
    waiting.acknowledge(3)
    waiting.acknowledge(4)  # nobody knows of it
    assert waiting.oldest_us is None


def test_what_comes_again_in_a_kept_session_keeps_its_first_arrival_however_often() -> None:
    waiting = connected(1, 2)
    for connection in (1, 2):
        waiting.begin(session_kept=True)
        assert waiting.oldest_us is None, "of the new connection nothing has come yet"
        assert waiting.arrive(1, connection * 10_000_000, 7, again=True) == 1_000_000
    assert waiting.arrive(2, 30_000_000, 7, again=True) == 2_000_000, "it was not sent in between"


def test_another_message_under_the_same_packet_id_is_new() -> None:
    for session_kept, digest, again in ((False, 7, True), (True, 8, True), (True, 7, False)):
        waiting = connected(1)
        waiting.begin(session_kept)
        assert waiting.arrive(1, 10_000_000, digest, again=again) == 10_000_000


def test_what_was_acknowledged_does_not_lend_its_arrival_to_another() -> None:
    waiting = connected(1)
    waiting.acknowledge(1)
    waiting.begin(session_kept=True)
    assert waiting.arrive(1, 10_000_000, 7, again=True) == 10_000_000

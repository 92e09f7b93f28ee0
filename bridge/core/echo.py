"""How bad an echo is: the E-model of ITU-T G.107 (edition 06/2015).

It rates a call R from 0 to 100. Numbers in brackets are the equations of that
edition, read in secondary sources. What matters here is talker echo: one's own voice,
`telr_db` weaker (talker echo loudness rating: the losses of sending, receiving and of
the echo path), one way `one_way_ms` late, so that it returns after twice that.
"""

import math
from dataclasses import dataclass, replace
from typing import Final

LOWEST_TELR_DB: Final = 0.0
"""Side-tone is rated no further down: the standard's range of TELR ends at 5 dB."""

_NEEDED_RANGE_DB: Final = (0.0, 200.0)
_HALVINGS: Final = 50  # 200 dB / 2**50 is below rounding


@dataclass(frozen=True, slots=True)
class Connection:
    """A call as G.107 describes one; the defaults are those of its Table 3."""

    slr_db: float = 8.0  # send loudness rating
    rlr_db: float = 2.0  # receive loudness rating
    stmr_db: float = 15.0  # side-tone masking rating
    ds_db: float = 3.0  # D-value of the send side
    dr_db: float = 3.0  # D-value of the receive side
    telr_db: float = 65.0  # talker echo loudness rating
    wepl_db: float = 110.0  # weighted echo path loss
    echo_delay_ms: float = 0.0  # T, one way, of the echo path
    loop_delay_ms: float = 0.0  # Tr, round trip in the four-wire loop
    absolute_delay_ms: float = 0.0  # Ta, one way
    quantizing_units: float = 1.0  # qdu
    codec_impairment: float = 0.0  # Ie
    loss_robustness: float = 4.3  # Bpl; 1 in older editions
    lost_percent: float = 0.0  # Ppl
    burst_ratio: float = 1.0  # BurstR
    circuit_noise_dbm0p: float = -70.0  # Nc
    noise_floor_dbmp: float = -64.0  # Nfor
    send_room_dba: float = 35.0  # Ps
    receive_room_dba: float = 35.0  # Pr
    advantage: float = 0.0  # A

    @property
    def olr_db(self) -> float:
        """Overall loudness rating."""
        return self.slr_db + self.rlr_db

    @property
    def lstr_db(self) -> float:
        """Listener side-tone rating."""
        return self.stmr_db + self.dr_db


# Ratings


def connection_rating(call: Connection) -> float:
    """Return the rating R of a call (7-1); below 0 if it is hopeless."""
    return (
        basic_rating(call)
        - simultaneous_impairment(call)
        - delay_impairment(call)
        - equipment_impairment(call)
        + call.advantage
    )


def rating(telr_db: float, one_way_ms: float) -> float:
    """Return R of an otherwise perfect call with this echo, delay harm included."""
    return connection_rating(_with_echo(telr_db, one_way_ms))


def telr_needed(needed_rating: float, one_way_ms: float) -> float:
    """Return the echo loss (TELR, dB) that gives a call this rating.

    It is 0.0 if no loss is needed, and `math.inf` if the delay alone is too much.
    """
    low, high = _NEEDED_RANGE_DB
    if rating(low, one_way_ms) >= needed_rating:
        return low
    if rating(high, one_way_ms) < needed_rating:
        return math.inf
    for _ in range(_HALVINGS):
        middle = (low + high) / 2.0
        if rating(middle, one_way_ms) >= needed_rating:
            high = middle
        else:
            low = middle
    return high


def delay_weight_db(one_way_ms: float) -> float:
    """Return how much louder an echo seems for being late (from 7-22).

    TERV, the rated loss of an echo, is its TELR minus this.
    """
    stretch = (1.0 + one_way_ms / 10.0) / (1.0 + one_way_ms / 150.0)
    return 40.0 * math.log10(stretch) - 6.0 * math.exp(-0.3 * one_way_ms**2)


def talker_echo_rating(terv_db: float) -> float:
    """Return R of a call whose only harm is an echo of this rated loss.

    `terv_db` is TELR - `delay_weight_db`; the delay itself is not held against it.
    """
    call = Connection()
    plain = connection_rating(replace(call, telr_db=math.inf))
    return plain - _echo_harm(_echo_scale(call), terv_db)


def mean_opinion(rating_r: float) -> float:
    """Return the mean opinion score, 1.0 to 4.5, that a rating predicts (B-4).

    The standard's polynomial dips to 0.99 below R = 6.5; a score is 1 or more.
    """
    if rating_r <= 0.0:
        return 1.0
    if rating_r >= 100.0:
        return 4.5
    bend = 7e-6 * rating_r * (rating_r - 60.0) * (100.0 - rating_r)
    return max(1.0, 1.0 + 0.035 * rating_r + bend)


# Words


def quality_words(rating_r: float) -> str:
    """Say a rating by the bands of ITU-T G.109."""
    bands = ((90.0, "best"), (80.0, "high"), (70.0, "medium"), (60.0, "low"))
    for least, words in (*bands, (50.0, "poor")):
        if rating_r >= least:
            return words
    return "not recommended"


def delay_verdict(one_way_ms: float) -> str:
    """Say a one-way delay by the limits of ITU-T G.114."""
    if one_way_ms <= 150.0:
        return "acceptable"
    return "acceptable with care" if one_way_ms <= 400.0 else "unacceptable"


# The terms of the rating


def basic_rating(call: Connection) -> float:
    """Return Ro, signal against noise (7-2)."""
    return 15.0 - 1.5 * (call.slr_db + total_noise_dbm0p(call))


def total_noise_dbm0p(call: Connection) -> float:
    """Return No, the power sum of circuit, room and floor noise (7-3 to 7-7)."""
    excess = call.send_room_dba - call.olr_db - call.ds_db - 14.0
    sent = call.send_room_dba - call.slr_db - call.ds_db - 100.0 + 0.004 * excess**2
    leak = 10.0 * math.log10(1.0 + math.pow(10.0, (10.0 - call.lstr_db) / 10.0))
    room = call.receive_room_dba + leak
    received = call.rlr_db - 121.0 + room + 0.008 * (room - 35.0) ** 2
    floor = call.noise_floor_dbmp + call.rlr_db
    levels = (call.circuit_noise_dbm0p, sent, received, floor)
    return 10.0 * math.log10(sum(math.pow(10.0, level / 10.0) for level in levels))


def simultaneous_impairment(call: Connection) -> float:
    """Return Is: too loud (7-9), side-tone (7-11) and quantizing (7-13)."""
    excess = call.olr_db + 0.2 * (64.0 + total_noise_dbm0p(call) - call.rlr_db)
    too_loud = 20.0 * (_soft(excess / 8.0, 8) - excess / 8.0)
    quality = 37.0 - 15.0 * math.log10(call.quantizing_units)
    g = 1.07 + 0.258 * quality + 0.0602 * quality**2
    y = (basic_rating(call) - 100.0) / 15.0 + 46.0 / 8.4 - g / 9.0
    z = 46.0 / 30.0 - g / 40.0
    quantizing = 15.0 * math.log10(1.0 + math.pow(10.0, y) + math.pow(10.0, z))
    return too_loud + side_tone_impairment(call) + quantizing


def side_tone_impairment(call: Connection) -> float:
    """Return Ist (7-11, 7-12): early echo is heard as side-tone."""
    echo_db = max(call.telr_db, LOWEST_TELR_DB)
    early = math.exp(-call.echo_delay_ms / 4.0) * math.pow(10.0, -echo_db / 10.0)
    tone_db = -10.0 * math.log10(math.pow(10.0, -call.stmr_db / 10.0) + early)
    return (
        12.0 * _soft((tone_db - 13.0) / 6.0, 8)
        - 28.0 * _soft((tone_db + 1.0) / 19.4, 35)
        - 13.0 * _soft((tone_db - 3.0) / 33.0, 13)
        + 29.0
    )


def delay_impairment(call: Connection) -> float:
    """Return Id: talker echo, listener echo and delay itself (7-18)."""
    return (
        talker_echo_impairment(call)
        + listener_echo_impairment(call)
        + absolute_delay_impairment(call.absolute_delay_ms)
    )


def talker_echo_impairment(call: Connection) -> float:
    """Return Idte (7-19 to 7-24); 0 below 1 ms, a little below 0 just above it."""
    if call.echo_delay_ms < 1.0:
        return 0.0
    rated_db = call.telr_db - delay_weight_db(call.echo_delay_ms)
    if call.stmr_db < 9.0:
        rated_db += side_tone_impairment(call) / 2.0
    harm = _echo_harm(_echo_scale(call), rated_db)
    harm *= 1.0 - math.exp(-call.echo_delay_ms)
    if call.stmr_db > 20.0:
        return math.hypot(harm, side_tone_impairment(call))
    return harm


def listener_echo_impairment(call: Connection) -> float:
    """Return Idle (7-25, 7-26)."""
    weight = math.pow(call.loop_delay_ms + 1.0, -0.25)
    gap = basic_rating(call) - 10.5 * (call.wepl_db + 7.0) * weight
    return gap / 2.0 + math.sqrt(gap**2 / 4.0 + 169.0)


def absolute_delay_impairment(one_way_ms: float) -> float:
    """Return Idd (7-27, 7-28); 0 up to 100 ms."""
    if one_way_ms <= 100.0:
        return 0.0
    x = math.log2(one_way_ms / 100.0)
    return 25.0 * (_soft(x, 6) - 3.0 * _soft(x / 3.0, 6) + 2.0)


def equipment_impairment(call: Connection) -> float:
    """Return Ie,eff, codec and lost packets (7-29)."""
    lost = call.lost_percent
    weight = lost / (lost / call.burst_ratio + call.loss_robustness)
    return call.codec_impairment + (95.0 - call.codec_impairment) * weight


def _with_echo(telr_db: float, one_way_ms: float) -> Connection:
    return Connection(
        telr_db=telr_db, echo_delay_ms=one_way_ms, absolute_delay_ms=one_way_ms
    )


def _echo_scale(call: Connection) -> float:
    """Return Roe (7-20)."""
    return -1.5 * (total_noise_dbm0p(call) - call.rlr_db)


def _echo_harm(scale: float, terv_db: float) -> float:
    """Return Idte of a long delay (7-19, 7-21)."""
    half_gap = (scale - (80.0 + 2.5 * (terv_db - 14.0))) / 2.0
    root = math.hypot(half_gap, 10.0)
    # Both forms are the same; the second keeps its digits, and takes no echo at all.
    return (half_gap + root if half_gap > 0.0 else 100.0 / (root - half_gap)) - 1.0


def _soft(x: float, power: int) -> float:
    """Return 1 for small x, going softly over to x: the standard's favourite bend."""
    return math.pow(1.0 + math.pow(x, power), 1.0 / power)

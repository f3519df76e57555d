"""What to do next, in words: each check with what its outcomes mean, and what is asked of the utility about a meter."""

from __future__ import annotations

from reconcile.records import dataclass
from reconcile.texts import Figures, Sentence, look_words
from reconcile.texts.look_words import began, breakers, cooling, ended, heater, heating, named, of_today, think_back


@dataclass(frozen=True, slots=True)
class CheckText:
    """A check in words: what to do, and pairs of what it may show and what follows."""

    do: Sentence
    outcomes: tuple[tuple[str, str], ...]


NAMED = "named-in-diary"
"""Code of what is asked about a thing that the diary names."""

READ_TODAY = "read-today"
"""Code of a reading of the meter today, beside the last bill's."""

RUN_AGAIN = "run-again"
"""Code of more runs with a known load, where one was made."""

BY_REGISTER = "register-run"
"""Code of a run by the meter's own kWh, where runs that agree rest on the Wh a flash alone."""

PLANNED = "planned-run"
"""Code of a run that interval data read by themselves."""

GO_ON = "go on with the next step"
"""What follows where a step shows nothing."""
RUN_IS_LEFT, BILL_IS_LEFT = "the run below can tell whether it is the meter", "check again with the next bill"
"""What follows in its place where no step that counts is left."""

NOT_AT_NIGHT: dict[str, str] = {
    "day": "nothing new runs all night. Look for what runs some hours by day or in the evening (a heater, a dehumidifier, a "
    "pump, more people at home)",
    "meter": "a round-the-clock load is unlikely; a steady load beside a plug-in meter then checks the meter",
}
"""What a quiet night means: what runs by day is looked for, unless a wrong meter is likelier."""
NOTHING_KNOWN = ("nothing comes to mind", GO_ON)
"""What follows where nobody remembers anything."""
UNPLUG_IT = (
    "leave it off for a day and a night, unless it must run (medical, freezer, sump pump, pipe heating in frost). Where the "
    "hourly readings of those days lack as much, it is the cause"
)


def planned_words(figures: Figures) -> dict[str, str]:
    """Say the hours and the doubt of a run planned in the data, for the sentences."""
    hour, minute = divmod(round(60.0 * figures["from_hour"]), 60)
    return {
        "from_hour": f"{hour}:{minute:02d}",
        "nights": str(figures["nights"]),
        "on": f"{figures['on_hours']:.0f} hours",
        "doubt": f"{figures['doubt_percent']:.0f} %",
    }


DOWNLOAD = (
    "Download your hourly or quarter-hourly readings from the utility's website and put the file beside the bills as "
    "interval.csv; then check the folder that holds both. No visit is needed."
)
DIFFERS = ("the hourly sums differ from the bill", "send both to the billing desk")

CHECKS: dict[str, CheckText] = {
    "heating-look": CheckText(heating, look_words.HEATING_SHOWS),
    "hot-water-look": CheckText(look_words.hot_water, look_words.HOT_WATER_SHOWS),
    "heater-look": CheckText(heater, look_words.HEATER_SHOWS),
    "cooling-look": CheckText(
        cooling,
        (
            (
                "there is ice, or the air is hardly cool",
                "switch the cooling off and call a cooling firm: refrigerant may be low. Open nothing",
            ),
            ("the filter is clogged, or a setting was changed", "put that right, and watch the next week"),
            ("all is as it should be", "ask a cooling firm for a check"),
        ),
    ),
    "compare": CheckText(
        "Compare the meter's number and reading on the wall with the last bill. Look, do not touch.",
        (
            (
                "they agree",
                "the bills are of this meter, and the last reading is actual; not yet that it counts this home alone",
            ),
            ("they do not agree", "call the billing desk with both numbers before anything else"),
        ),
    ),
    READ_TODAY: CheckText(
        of_today,
        (
            (
                "the meter stands below the bill's reading",
                "that reading was wrong: send the billing desk today's, with its date, and ask for a corrected bill",
            ),
            (
                "it has counted much less a day since then than is usual",
                "the bill's reading may have been too high: ask for an actual reading",
            ),
            ("it has counted about as much as is usual", "the reading is right, and what lifted the bill is over"),
            ("it has counted as much more as the bill did", "what lifts it is still there; go on with the next step"),
        ),
    ),
    "run-again": CheckText(
        "Make the run with a known load (a heater through a plug-in energy meter) twice more as the plan says, every figure "
        "read anew, what starts by itself switched off; and judge all three.",
        (
            ("they agree that the meter counts too much or too little", "send the request for a test, with the runs"),
            ("they do not agree", "something else was on, or a figure was misread: send nothing yet"),
        ),
    ),
    "register-run": CheckText(
        "Read the Wh a flash off the meter's face once more. Then make one more run that needs none: the same heater through the "
        "plug-in meter for hours, as long as judge says, somebody awake in the room; write the meter's kWh right before and after, "
        "the watts and the seconds; judge again.",
        (
            ("the meter's own kWh agree with the count", "send the request for a test, with all runs"),
            ("they do not, or the face says another figure", "correct the figure, judge again, and send nothing"),
        ),
    ),
    "underground": CheckText(
        "Find out, from where you stand, whether the wires to the meter or from it to the panel come out of the ground, "
        "and write service_underground on the field-test sheet. Until you know, keep off the ground above them.",
        (
            (
                "they come underground",
                "the cable may leak and the soil be live: keep off, call the utility's emergency line",
            ),
            ("they come overhead", "go on with the next step"),
        ),
    ),
    "ahead": CheckText(
        "Look, touching nothing, for other panels, breakers and disconnects beside the meter and outside, and for what "
        "still ran with the main off. Leave them as they are; write down what is printed on them.",
        (
            ("there is one", "a load may be fed ahead of the main: a licensed electrician says what is fed from where"),
            (
                "there is none",
                "the meter creeps, serves another home besides, or the cable leaks: the utility can tell",
            ),
        ),
    ),
    "began": CheckText(
        began,
        (
            (
                "something began then",
                "more people are the cause by themselves. Leave a thing off for a day and a night, unless it must run "
                "(medical, freezer, sump pump, pipe heating in frost). Where the meter slows by as much, it is the cause",
            ),
            NOTHING_KNOWN,
        ),
    ),
    "runs-then": CheckText(began, (("something runs at those times", UNPLUG_IT), NOTHING_KNOWN)),
    "set-otherwise": CheckText(
        began,
        (
            ("a setting or a repair changed then", "it is likely the cause: set it back, and the next bills show it"),
            NOTHING_KNOWN,
        ),
    ),
    "ran": CheckText(
        began,
        (
            ("something ran then", "it is the cause and is over: nothing else needs to be done"),
            NOTHING_KNOWN,
        ),
    ),
    NAMED: CheckText(
        named,
        (
            ("the day is as much lower as the bills are higher", "it is the cause, and what it costs is known"),
            ("the day is lower by much less", "something else began too; go on with the next step"),
        ),
    ),
    "own-readings": CheckText(
        "Read the meter yourself at the same hour on two days a week apart. Write down date, hour and reading.",
        (
            (
                "it comes to clearly less a day than the last bill, in like weather",
                "what lifted that bill is over, or its reading was off; ask for an actual reading",
            ),
            ("it comes to about as much", "what lifts the bills is still there; go on with the next step"),
        ),
    ),
    "quiet": CheckText(
        "Read the meter last thing at night and first thing in the morning. Switch off what may be off: nothing that "
        "somebody depends on, no freezer, pump or heating in frost. Enter the two readings as a quiet reading on the "
        "field-test sheet (made by: reconcile plan).",
        (
            (
                "it counts more than what you know to run at night",
                "something runs round the clock; with the readings entered the answer says how to find it. Open nothing",
            ),
            ("it counts no more than that", "{else}"),
        ),
    ),
    "download": CheckText(
        DOWNLOAD,
        (
            ("the night-time use stepped up", "a load began, and its date and size are then known"),
            ("everything rose in proportion", "the meter may be fast; run a steady load beside a plug-in meter"),
            DIFFERS,
        ),
    ),
    "download-less": CheckText(
        DOWNLOAD,
        (
            ("the night-time use stepped down", "a load ended, and its date and size are then known"),
            ("everything fell in proportion", "the meter may be slow; run a steady load beside a plug-in meter"),
            DIFFERS,
        ),
    ),
    "known-load": CheckText(
        "Run one steady load, such as a portable heater, through a plug-in energy meter: off, on for a quarter of an "
        "hour or more, off. Time the meter's display or flashes meanwhile. No cover is removed. Enter it as a run on the "
        "field-test sheet.",
        (
            ("the meter counts what the plug-in meter counts", "the meter is not the cause at this load"),
            ("the meter counts clearly more or less", "a meter test by the utility is warranted"),
            ("it cannot tell", "a longer run or a larger load would; the plan says how long"),
        ),
    ),
    PLANNED: CheckText(
        "Let the hourly readings (interval data) tell: on {nights} quiet nights, run a portable heater through a plug-in energy meter from "
        "{from_hour} for {on}, by the clock of a telephone; a few minutes more or less do no harm. Write down its kWh each night; "
        "some days later download those nights' readings. Enter each night as a run in the interval data on the "
        "field-test sheet. Nobody has to stand at the meter, and it tells the meter to about {doubt}. Somebody stays "
        "awake and near the heater while it is on. Keep it well away from anything that burns.",
        (
            ("the data rise by what the plug-in meter counts", "the meter is not the cause at this load"),
            ("the data rise by clearly more or less", "a meter test by the utility is warranted"),
            ("it cannot tell", "more nights or a larger heater would"),
        ),
    ),
    "leave-off": CheckText(
        "Leave the breaker of circuit {circuit} off and call a licensed electrician: with everything unplugged its wiring "
        "still takes about {watts:watts}. Keep off wet ground, metal and water where it runs.",
        (
            (
                "a fault is found and mended",
                "write the day into a file events.txt beside the bills: the next bills show it",
            ),
            (
                "none is found",
                "ask what else is wired to it: a pump, a buried cable, an outbuilding. It stays off till then",
            ),
        ),
    ),
    "one-circuit": CheckText(
        "Unplug or switch off in turn what hangs on circuit {circuit}: its breaker slows the meter by about {watts:watts}. "
        "What cannot wait stays on.",
        (
            ("the meter slows with one of them", "that is the load"),
            (
                "it counts as much with everything unplugged",
                "the wiring itself may leak, in a wall or in the ground. Leave that breaker off, keep off wet ground and metal "
                "there, and call a licensed electrician. Write it down as unplugged in the field test",
            ),
        ),
    ),
    "breakers": CheckText(
        breakers,
        (
            (
                "one breaker slows the meter",
                "the load is on that circuit; unplug or switch off what hangs on it in turn",
            ),
            (
                "it still counts as much with everything on that circuit unplugged",
                "the wiring itself may leak, in a wall or in the ground. Leave that breaker off, keep off wet ground and metal "
                "there, and call a licensed electrician",
            ),
            ("none does", "the load is ahead of them, or comes and goes, or this meter counts another home; repeat"),
        ),
    ),
    "main-off": CheckText(
        "If it is safe in this home: main breaker off, every cover on, and watch the meter for fifteen minutes. Enter it "
        "as a main-off reading on the field-test sheet.",
        (
            ("the meter stands still", "what draws power is inside the house"),
            (
                "the meter counts",
                "something acts ahead of the main breaker, or the meter counts by itself; call the utility",
            ),
        ),
    ),
    "standing-meter": CheckText(
        "Every bill says 0 kWh. Look whether the meter counts while something runs.",
        (
            ("it counts", "ask for an actual reading"),
            ("it stands still", "tell the utility; what it did not count may be billed later"),
        ),
    ),
    "inverter": CheckText(
        "Look at the inverter's display and at what it counted on a clear day, opening nothing; and whether anything new "
        "shades the panels.",
        (
            ("it shows a fault, or much less than before", "call whoever installed it"),
            ("it makes what it did before", "ask the utility about the register of what is sent out"),
        ),
    ),
    "walk-through": CheckText(
        "Walk through the house, attic, garage and yard, and add what draws power and is not on the list of loads.",
        (("something is found", "with it on the list the ranges become narrower"),),
    ),
    "measure": CheckText(
        "Measure {load}: {how}.",
        (
            (
                "its use is known",
                "the bills would then show a meter fast from the start, from about {percent:percent} on",
            ),
        ),
    ),
    "listed-low": CheckText(
        "Look at your {load} first: it is listed with about {listed:watts} day and night, and about {usual:watts} is "
        "usual. Measure it: {how}.",
        (
            ("it takes as much as is usual", "correct its line on the list of loads; the list then lacks less"),
            ("it takes what is listed", "something else is missing from the list"),
        ),
    ),
    "measure-own": CheckText(
        "Your {load} may use more than listed. Measure it: {how}.",
        (
            ("it takes about {size} more than listed", "it is what lifts the bills{cost}"),
            ("it takes what is listed", "it is not the cause; go on with the next step"),
        ),
    ),
    "never-off": CheckText(
        "Look whether your {load} ever stops: running day and night it would use about {size} more.",
        (
            ("it never stops", "its timer or switch is the cause: set it right"),
            ("it stops as listed", "it is not the cause; go on with the next step"),
        ),
    ),
    "measure-list": CheckText(
        "Measure {load}: {how}.",
        (("its use is known", "put it on the list of loads; the ranges then become narrower"),),
    ),
    "two-as-one": CheckText(
        "Add the two bills of {span:span}: together {kwh:kwh} in {days:days}, {a_day:per_day}. What one of them charged too much, "
        "the other charged less.",
        (
            (
                "that is as usual, and a kWh costs the same on both",
                "nothing is lost, and nothing else needs to be done",
            ),
            ("a kWh does not cost the same on both", "ask for the right reading between them, and a corrected bill"),
        ),
    ),
    "diary": CheckText(
        think_back,
        (
            ("something fits", "the bill is explained, and nothing else needs to be done"),
            ("nothing fits", "have the reading checked"),
        ),
    ),
    "ended": CheckText(
        ended,
        (
            ("something fits", "it is the cause, and nothing else needs to be done"),
            (
                "nothing fits",
                "the meter may count too little: have its readings checked. What it did not count may be billed later",
            ),
        ),
    ),
    "lived-in": CheckText(look_words.LIVED_IN, look_words.LIVED_IN_SHOWS),
    "backup-heat": CheckText(
        "Call a heating firm, and tell it what your diary says of {day:day}.",
        (("a fault is found and mended", "write the day into the diary: the next bills show it"),),
    ),
    "panels": CheckText(
        "Call whoever installed the panels, and tell what your diary says of {day:day}.",
        (("a fault is found and mended", "write the day into the diary: the next bills show it"),),
    ),
    "done": CheckText(
        "Read the meter at the same hour on two days a week apart, looking only. The last bill had {a_day:per_day}.",
        (
            (
                "it counts clearly less a day, in like weather",
                "what your diary tells of {day:day} was it, and nothing else needs to be done",
            ),
            ("it counts about as much", "something else lifts the bills: go on with the next step"),
        ),
    ),
    "old-slow": CheckText(
        "You need do nothing now: what the old meter did not count may be billed later. If such a bill comes, ask first how "
        "far back a correction may go; many rules limit it.",
        (),
    ),
    "be-sure": CheckText(
        "To be sure of the meter all the same: {ways}.",
        (
            ("both count the same", "the meter counts right, as far as such a run can tell"),
            ("the meter counts clearly more or less", "a meter test by the utility is warranted"),
        ),
    ),
    "see-hours": CheckText(
        "To see what runs at night and when a load began, download your hourly or quarter-hourly readings from the "
        "utility's website. Put the file beside the bills as interval.csv (15 minutes, no visit).",
        (),
    ),
    "confirm": CheckText(
        "Confirm it: your diary says “{thing}” ({day:day}). Did it last about as long as the bills are high?",
        (
            ("it did", "that is the cause, and nothing else needs to be done"),
            (
                "it did not, or it is over and the next bill is as high",
                "something else is there: check again with that bill",
            ),
        ),
    ),
    "watch": CheckText("Nothing is worth a check yet. Add the next bill, and check again.", ()),
    "keep-reading": CheckText("Nothing needs to be done. Keep the bills.", ()),
    "complete-list": CheckText(
        "There is no hurry: no bill needs a check. When you have time, go through the rooms with the list of loads, and "
        "add what is missing, or runs longer than it says.",
        (("the list meets the bills", "a later rise shows sooner"),),
    ),
    "more-bills": CheckText("Add bills until there are twelve or more ({count} now). The utility keeps past ones.", ()),
    "older-bills": CheckText(
        "Add the bills of the year before these: only where a season comes twice do bills tell it from a change. The "
        "utility keeps past ones.",
        (),
    ),
    "more-loads": CheckText(
        "List the loads: what draws power, its watts, its hours. The command reconcile loads prints typical ones.", ()
    ),
    "sharper-loads": CheckText(
        "Write watts and hours beside the heating, the cooling and the largest loads of the list: names alone tell too "
        "little.",
        (("it is sharper", "it narrows what could hide in the bills"),),
    ),
    "more-weather": CheckText(
        "Look whether the bills print an average temperature, and type it beside each bill, under the heading average "
        "temperature. Better: add a year of daily temperatures from the nearest public weather station.",
        (),
    ),
}
"""Every step the household takes, by its code."""

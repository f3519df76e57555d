"""Sentences of what comes after a field test's verdict, and of what counting with the main off can mean."""

from __future__ import annotations

from reconcile.say import Voice, listed
from reconcile.texts import Figures, Sentence, tell
from reconcile.texts.categories import category_warnings
from reconcile.texts.components import spoken_component
from reconcile.texts.field.field_doubts import SETTLE
from reconcile.texts.field.field_remarks import REMARKS
from reconcile.texts.step_words import CHECKS


def _again(voice: Voice, f: Figures) -> str:
    notes = " ".join(tell(voice, REMARKS, note.code, note.figures) for note in f["notes"])
    return f"Main off once more, if its cautions are met: {notes}"


def _repeat_twice(voice: Voice, f: Figures) -> str:
    off = (
        f" Switch off what starts by itself ({listed(f['cycling'])}), or note that it "
        "was off: one that starts within a run moves the result by several per cent."
        if f["cycling"]
        else ""
    )
    return f"One run was made. Make it twice more, every figure read anew, before anything is sent.{off}"


STEPS: dict[str, Sentence] = {
    **SETTLE,
    "leave-off": CHECKS["leave-off"].do,
    "one-circuit": lambda voice, f: " ".join(
        (
            voice.fill(str(CHECKS["one-circuit"].do), f),
            *(f"If {a}: {then}." for a, then in CHECKS["one-circuit"].outcomes),
        )
    ),
    "keep-readings": "Keep these readings and photographs for the utility; take no more.",
    "main-off-again": _again,
    "ask-underground": (
        "First find out whether the wires from the street to the meter, or from the meter to the panel, come "
        "underground (no overhead wires, a pipe out of the ground at the meter), and write service_underground. Until "
        "you know, keep off the ground above them; if they do, call the utility's emergency line."
    ),
    "case-not-now": (
        "The display may not show the power of now but a demand, an average of a quarter of an hour or so, or may lag "
        "by a minute. Watch the pulses, the turning disk or the last digit of the kWh instead, for a quarter of an "
        "hour. If the energy does not grow, nothing flows."
    ),
    "case-coasting": (
        "A disk may coast up to one turn after the load is gone. Wait until it has stood for five minutes, then time "
        "it again. A disk that stops within one turn is sound."
    ),
    "case-disconnect-left-on": (
        "A breaker or disconnect may have stayed on. Look again whether every one you can name is off, touching no "
        "cover, and write all_disconnects_off."
    ),
    "case-ahead-of-main": (
        "A load or a second disconnect may be fed ahead of the main: a second panel, an air conditioner, a well, a "
        "garage, a car charger, an alarm. Look for other panels, boxes and breakers beside the meter and outside, and "
        "for anything in the home that still runs. Leave them as they are; write down what is printed on them. If "
        "something still runs, it is fed from ahead of the main. Call: A licensed electrician, to say what is fed from "
        "where."
    ),
    "case-shared-or-wrong-meter": (
        "The meter may be another home's, or feed a neighbor's or a common load besides. Compare the meter's number "
        "with the bill. With the main off, ask a neighbor to switch a heater on and off while you watch the meter. If "
        "the number is not the bill's, or the meter follows the neighbor, the meters are crossed or shared. Call: The "
        "utility's billing desk, with photographs of both numbers."
    ),
    "case-own-generation": (
        "Solar panels, a battery or a generator may feed back or draw power to keep themselves going. Look whether an "
        "inverter or battery still shows power. A reading with it on says nothing of the meter. Call: The installer."
    ),
    "case-underground-leak": (
        "The service cable may leak to the soil or to its metal conduit between the meter and the panel; it can also "
        "make the ground or metal nearby live. From a distance: does the service come out of the ground in metal "
        "conduit, is it rusted, wet or broken? Does the count grow in wet weather and fall in dry? A steady reading "
        "that nothing in the home explains, with wires underground, is this until shown otherwise. Call: The utility's "
        "emergency line. Keep off the ground above the cable."
    ),
    "case-creep": (
        "The meter itself may creep: register with nothing connected. Time the disk or the pulses for a quarter of an "
        "hour: one full turn in five minutes or less is creep (52 Pa. Code 57.20); several state rules allow no "
        "registration at all. Steady counting with all the above ruled out is creep. Call: The utility, for a test of "
        "the meter; ask to be present, and check your local rule."
    ),
    "watts-as-on-nameplate": (
        "{watts:exact} W in every run is a figure that stands on nameplates. A heater may draw a tenth less, and the "
        "meter then looks slow, or a little more. Before anything is sent, read the watts off the plug-in meter while "
        "the heater runs, and write what it shows each time."
    ),
    "seconds-alike": (
        "{seconds:exact} seconds in all {runs:exact} runs: a count from one pulse to another does not end at the same "
        "tenth of a second each time. Time the count again, and write what the stopwatch shows, or write "
        'counted = "in-a-time" where the time was set beforehand.'
    ),
    "repeat-twice": _repeat_twice,
    "repeat-with-plug-in": (
        "One run was made, behind a cover. Before anything is sent run a known load through a plug-in meter, three times, "
        "nothing opened (reconcile plan)."
    ),
    "another-way": (
        "All of this rests on clamps behind a cover: one round a wrong wire, or out by as much, looks the same. Before "
        "anything is sent run a known load through a plug-in meter, three times, nothing opened (reconcile plan)."
    ),
    "another-plug-in": (
        "All of this rests on one plug-in meter, which may itself be out by as much. Make one run with another one, "
        "borrowed if need be, before anything is sent: where both agree, the result stands."
    ),
    "slow-risk": (
        "A slow meter can mean a bill for the past once it has been tested. Before you send anything find out how far back "
        "your local rule lets a correction go."
    ),
    "letter": "Write the readings into the letter to the utility, with photographs of the meter before and after.",
    "ask-utility": (
        "Ask the utility in writing for a test of the meter against a reference standard, and to be present; often "
        "free on request. Check your local rule."
    ),
    "with-the-bills": (
        "By themselves these readings are no reason to ask for a test. Make a run that tells more first; weigh it "
        "together with the bills (reconcile check): that answer says whether to ask the utility in writing for one."
    ),
    "no-test-called-for": (
        "These readings agree with a right meter: nothing in them calls for a test by the utility. If the bills still "
        "speak against the meter, repeat the run with what narrows it most."
    ),
    "fits-both": (
        "These readings fit a right meter, and a wrong one too: by themselves they are no reason to ask for a test. Make a "
        "run that tells more first."
    ),
    "keep-paying": (
        "Keep paying what is not in dispute, and ask how a correction is worked out: it is the local rule's."
    ),
    "meter-is-right": (
        "The meter is not the cause. Go back to the loads: measure the ones that leave most of the uncertainty."
    ),
    "main-off-only": (
        "Nothing that a bill would show is counted with the main off. How the meter counts a load is another question: a known load through "
        "a plug-in meter tells, nothing opened."
    ),
    "read-together": "Read the meter and the load together in a run that can be judged: see the reasons above.",
    "known-load-next": (
        "Run one known load through a plug-in meter, three times (reconcile plan): a quiet reading cannot tell a fast "
        "meter from a load that is not on the list."
    ),
    "plan-first": "Make the plan first (reconcile plan): it begins with checks that need nothing opened.",
    "category": lambda voice, f: (
        f"Before anybody qualified reads at the legs again: {category_warnings((f['unfit'],))[0]}"
    ),
    "most-of-the-doubt": lambda voice, f: (
        f"Most of the uncertainty ({voice.number(f['share'])} %) comes from {spoken_component(f['name'])}: that is "
        "what a better test must narrow."
    ),
    "better-register": lambda voice, f: (
        f"The load on for {voice.number((f['told'].seconds or 0.0) / 3600.0)} hours"
        f"{'' if f['told'].repeats == 1 else ', ' + str(f['told'].repeats) + ' times'}, the kWh of both meters read before "
        "and after, would detect an error that passes about "
        f"{voice.number(f['tolerance'] + f['told'].expanded_percent, 0.1)} %. Where the meter has a light or a disk to "
        "count, minutes tell more (reconcile plan)."
    ),
    "better-plug-in": lambda voice, f: (
        f"A plug-in meter good to 0.5 % on a steady {voice.number(f['watts'])} W load for "
        f"{voice.number(f['minutes'])} minutes, near the panel, covers closed, would detect an error that "
        f"passes about {voice.number(f['error'], 0.1)} %."
    ),
}
"""By code."""

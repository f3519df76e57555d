"""What to say on the phone: who calls, what was seen, what is asked, and what to note down."""

from __future__ import annotations

from collections.abc import Collection, Sequence

from reconcile.kinds import Decision

OPENING = "“My account number is … . I am calling about {about}.”"
AT_MY_ADDRESS = "the electric meter at my address"
"""What a call is about that is about no bill."""
SEEN = "“{seen}”"
ASKS = "“Please {request}”"
IF_AGREED = "Only where the runs agree: "
"""Before the words that ask for a test, where one run told the meter."""
CLOSING = "“Please tell me your name and a reference for this call.” Note both, with the date."

NO_CALL: dict[str, str] = {
    Decision.URGENT: "Call the utility's emergency line now; its number is on the bill. Say where you are and what you saw, heard or smelled.",
    Decision.EXPLAINED: "There is nothing to complain about in these bills, and no call to make.",
    "used-more": "There is no call to make: more was used, and nothing points to the meter or to the billing.",
    "used-more-yet": "Do not call yet: more was used, and nothing points to the meter or to the billing. If the steps above find nothing, "
    "ask the billing desk to check the readings.",
    "fell": "Do not call yet: ask at home first. If nothing fits, ask the billing desk to check the readings; what a meter did not "
    "count may be billed later.",
    "falls": "Do not call yet: ask at home and look first. If as much is used there as before, run the known load and ask the "
    "billing desk to check the readings; what a meter did not count may be billed later.",
    "watch": "Do not call yet: nothing is there to ask of the utility. The next bills will tell more.",
    Decision.OUTSIDE_CHECK: "Do not call yet: what the checks show decides whom to call, and they cost nothing. "
    "If a load is found that should not run, switch it off; for wiring call a licensed electrician. If readings or hourly "
    "sums differ from the bills, call the billing desk. If the meter counts a steady load wrong, ask the utility for a test.",
    "cannot-tell": "Do not call yet: nothing is there to ask of the utility. The steps above show what would tell more.",
    Decision.INVENTORY: "Do not call yet: measure the loads first. If the bills then still differ from the list, run a "
    "steady load beside a plug-in meter; if the meter counts it wrong, ask the utility for a test.",
    "heating-rise": "Do not call the utility: heating is what takes more. Where the thermostat shows auxiliary or emergency "
    "heat, or the outdoor unit stands still, call a heating firm: “My heat pump seems to run on its backup heat{span}.”",
    "backup-heat": "Do not call the utility. Call a heating firm: “My heat pump seems to run on its backup heat{span}.”",
    "leave-off": "Call a licensed electrician, not the utility: “With everything unplugged, the wiring of one circuit still "
    "draws power. I have left its breaker off.”",
    "panels": "Do not call the utility. Call whoever installed the panels: “They make less{span}.”",
    "cooling-rise": "Do not call the utility: cooling is what takes more. Where there is ice, or the air is hardly cool, call a "
    "cooling firm.",
    "generation-fall": "Do not call the utility: the panels make less. Where the inverter shows a fault, or less than before, "
    "call whoever installed it.",
    Decision.NOT_ENOUGH_DATA: "The utility can send copies of older bills: ask for the last two years.",
}
"""What to do in place of a call that asks for something."""


def phone_words(
    decision: str,
    seen: str,
    requests: Sequence[str],
    span: str,
    *,
    bills: int = 0,
    since: str = "",
    waits: Collection[int] = (),
    meter: bool = False,
) -> tuple[str, ...]:
    """Return what to say, line by line.

    Parameters
    ----------
    decision : str
        A code of :class:`Decision`, ``cannot-tell``, or a cause for which another firm is called.
    seen : str
        What stands out, in a sentence; may be empty.
    requests : sequence of str
        What the letter asks.
    span : str
        Dates of the bills asked about; may be empty.
    bills : int
        How many they are.
    since : str
        Day from which a cause acts, written; may be empty.
    waits : collection of int
        Places of the requests that wait until more runs agree.
    meter : bool
        Whether a meter is asked about, where no bill is.

    Examples
    --------
    >>> phone_words(Decision.EXPLAINED, "", (), "")
    ('There is nothing to complain about in these bills, and no call to make.',)
    """
    if not requests:
        return (
            NO_CALL.get(decision, NO_CALL[Decision.EXPLAINED]).replace("{span}", f" since {since}" if since else ""),
        )
    of_bills = f"my electric {'bill' if bills == 1 else 'bills'}{f' of {span}' if span else ''}"
    lines = [OPENING.format(about=of_bills if span or not meter else AT_MY_ADDRESS)]
    lines += [SEEN.format(seen=seen)] if seen else []
    lines += [
        (IF_AGREED if at in waits else "") + ASKS.format(request=request[:1].lower() + request[1:])
        for at, request in enumerate(requests)
    ]
    return (*lines, CLOSING)

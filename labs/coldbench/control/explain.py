"""The head's reasoning as text that a learner reads from top to bottom."""

from coldbench.control.records import Link, Outputs, Step

_ORDER = ("sensors", "required ", "blower", "distribution", "recirculation", "compressor",
          "fans", "door ", "codes")


def explain(done: Step) -> str:
    """Write out one step: each decision with its reason, then the compressor chain.

    Parameters
    ----------
    done : Step
        From `step`.

    Returns
    -------
    str
        Lines; "*" marks what changed in this step.
    """
    lines = ["What the head decides, and why (* = changed in this step):"]
    for start in _ORDER:
        lines += [f"{'*' if reason.changed else ' '} {reason.words}" for reason in done.reasons
                  if reason.topic.startswith(start)]
    return "\n".join([*lines, "", explain_compressor(done.outputs)])


def explain_compressor(outputs: Outputs) -> str:
    """Write out the compressor chain: every link in order, the first that stops it by name.

    Parameters
    ----------
    outputs : Outputs
        Of a step.

    Returns
    -------
    str

    Examples
    --------
    >>> chain = (Link("head", True, "A/C is on and the blower runs at 35 %"),
    ...          Link("freeze", False, "evaporator 1.8 °C ≤ 2.0 °C"),
    ...          Link("pause", False, "off for 0.5 s < 8.0 s"))
    >>> print(explain_compressor(Outputs(False, "off", 0.35, "face", False, (), (), chain, (), ())))
    Why the compressor is off: link 2 of 3, freeze.
      1  lets through  head: A/C is on and the blower runs at 35 %
      2  STOPS IT      freeze: evaporator 1.8 °C ≤ 2.0 °C
      3  would stop it pause: off for 0.5 s < 8.0 s
    """
    blocked = outputs.blocked_by
    if blocked is None:
        title = f"Why the compressor is on: all {len(outputs.chain)} links let the request through."
    else:
        title = (f"Why the compressor is off: link {outputs.chain.index(blocked) + 1} of "
                 f"{len(outputs.chain)}, {blocked.name}.")
    return "\n".join([title, *(f"{number:3d}  {_verdict(link, blocked):13} {link.name}: "
                               f"{link.words}" for number, link in enumerate(outputs.chain, 1))])


def _verdict(link: Link, blocked: Link | None) -> str:
    if link.passes:
        return "lets through"
    return "STOPS IT" if link is blocked else "would stop it"

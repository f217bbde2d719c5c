"""The command line: options in, one answer out.

===================  ==========================================================================
module               duty (in the order data flows)
===================  ==========================================================================
``group``            the command ``tapertread``: its commands by name, each loaded when asked for
``answers``          what a command answers: strict JSON, or text; refusals and exit status
``house_command``    one kind of command: ``--json``, an example, refusals as exit status 1
``value_types``      lengths with units, inclinations: option values that are more than numbers
``progress``         bars on standard error
``wording``          aligned lines of text for people
``shapes_given``     a design's name, a drawing file or an outline file: the shape that is meant
``pairing_options``  the options that put one wheelset on one track
``pair``             one wheelset on one track
``steer``            can its shape roll through this curve without its flange?
``gauge``            wear measures of one outline
``import_``          bring measurements into a survey
``assess``           from measurements to verdicts and report
``demo``             the invented railway, written and assessed
``list_``            designs, limits, sources
``page``             the generated page ``docs/commands.md``
===================  ==========================================================================

With ``--json`` one object stands on standard output and everything else on standard error. Exit
status: 0 done, 1 refused input, 2 wrong usage. No physics here: a command reads its options, calls
the room that knows, and words the answer.
"""

from tapertread.cli.group import main

__all__ = ["main"]

"""The whole job: from a survey to ranked findings, and nothing hidden on the way.

================  ==============================================================================
module            duty (in the order data flows)
================  ==============================================================================
``records``       reasons, subjects and findings as plain records
``sentences``     the one place that turns reasons into words
``assessment``    the result of an assessment, and its plain values for JSON
``crew``          several processes for long work
``measuring``     every outline cleaned, aligned and gauged
``states``        wheelsets and sections as they can meet
``jobs``          what there is to measure, and what is known beside it
``onhand``        a survey's last campaign made ready, and the one before
``changes``       what changed since the campaign before, and what cannot have
``encounters``    what one wheelset does on one section
``meetings``      who meets whom: fleets on their lines, new shapes beside worn ones
``held``          measures held against limits; ranking
``ground``        what running verdicts share: limits, common causes, how sure they are
``curving``       verdicts on wheelsets in curves
``straights``     verdicts on wheelsets on straight track
``running``       all of them together, or why there are none
``line``          verdicts on sections of line
``drift``         kilometres that drift between campaigns
``findings``      all findings on one wheelset or section
``pictures``      the pairings drawn beside the gravest findings
``remarks``       grease, fresh steel and registers: what no limit judges
``summing``       wheelsets, sections and route as the assessment carries them
``assess``        the chain
================  ==============================================================================
"""

"""Clips of play: a defender who comes in, hops, lands and goes, and an attacker who strikes.

`rally` plans strokes and times, `footwork` and `body_motion` make steps and swings, `defender` and
`attacker` put them together as a `motion.Motion`, `joints` turns that into joints without drawing,
`sound` makes the track, `clip` draws everything from a seed, `truth` and `files` write it down.
"""

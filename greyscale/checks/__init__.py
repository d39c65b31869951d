"""Checks of a reading: was every patch measured, and does each value stand under its own?

`checking.check` lays a reading over its chart, explains what does not fit by the likeliest mistake
(of `order`, or `search`), looks at single values (`values`), and puts right what can be put
right without guessing a value.
"""

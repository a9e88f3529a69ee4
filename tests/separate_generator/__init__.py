"""A second, separate generator of CSV captures, for testing the judging of files.

It shares nothing with the virtual fixture: another model of valve friction, another hand, another
pump. An estimator that is right on both was not tuned on either. Nothing here imports the program.

Model, in the order a capture is made:

motion.py      the pin and the lever against time: minimum-jerk strokes, hesitation, pauses, tremor
valve.py       load of the lever, Dahl friction, minimum pressure, supply limit, detent, lag
instrument.py  pump ripple, wander, noise, sensor errors, converter steps
capture.py     one case to arrays and to a CSV file
case.py        every parameter of a case, its truth, and the verdicts that would be wrong
catalogue.py   the named cases and the large random draw
"""

from separate_generator.capture import make_arrays, write_csv
from separate_generator.case import Case, draw_case
from separate_generator.catalogue import large_cases, standard_cases

__all__ = ["Case", "draw_case", "large_cases", "make_arrays", "standard_cases", "write_csv"]

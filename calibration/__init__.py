"""Long statistical runs: do the stated uncertainties and rates hold?

`make calibrate` runs every table with 2,000 draws a cell, but ten times as many of bare floors,
whose rates are small, and a tenth as many of wandering supplies, which take long. The tests run
the same tables with fewer (tests/contents/test_promises.py). All records are invented and made by
`simulate`, which shares nothing with the estimator.
"""

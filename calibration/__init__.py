"""Long statistical runs: do the stated uncertainties and rates hold?

`make calibrate` runs every table with 2,000 draws a cell; the tests run the same tables with
fewer. All records are invented and made by `simulate`, which shares nothing with the estimator.
"""

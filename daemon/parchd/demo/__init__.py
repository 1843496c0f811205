"""The demo: an invented farm, simulated at its boards, watched by the real daemon sixty times faster than life.

Nothing here is imported by the daemon. `parchd.demo.show` is the way in.
"""

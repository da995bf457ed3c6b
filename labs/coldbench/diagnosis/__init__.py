"""From complaint to proven cause: fault trees and the order of tests.

tree      what can cause it, how likely, and what the learner's tree says
strategy  which test first, so that the cause is proven at the least expected cost
"""

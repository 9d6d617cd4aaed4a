"""Buying: what the next weeks take of each material, what to order when, and which widths to buy.

::

    order book or forecast -> outlook: beds per week
        -> need: nested per material and week, later weeks by the yield measured on these
        -> less what is on the shelf and on order, plus a safety stock -> orders, week by week
        -> workbook, lists, JSON
"""

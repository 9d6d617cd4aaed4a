"""A plan as one page for a browser: tables that sort, where the material goes, and maps to zoom into.

The page is one file and asks nothing of any network: it can be mailed, and opens on a telephone.
"""

from nesting.page.writing import page_text, write_page

__all__ = ["page_text", "write_page"]

"""The browser that the tests of the sheet's page share."""

from sheet.browser import address, kept_page, opened

__all__ = ["address", "kept_page", "opened"]

"""The browser that the tests of the sheet's page share."""

from sheet.browser import address, chromium, opened

__all__ = ["address", "chromium", "opened"]

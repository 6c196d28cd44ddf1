"""The sealed files of a quote: PDF, UBL and CSV bytes, and the words that they share with the pages."""

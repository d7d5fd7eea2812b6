"""The pages in a browser."""

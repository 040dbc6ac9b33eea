"""The sheet of a plan: what it holds, its pictures, and the sheet as a page and as a PDF."""

"""Reading what people give: files with limits, tables and workbooks, dates and lengths, and what was wrong."""

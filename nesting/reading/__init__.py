"""Reading what people give: files with limits, tables, workbooks, dates, lengths, findings."""

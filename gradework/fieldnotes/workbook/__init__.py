"""The workbook of a spreadsheet (xlsx, ods, xls) as the same table of cells that a text file gives."""

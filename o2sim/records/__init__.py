"""What a hospital's paper books say, read from one workbook or a folder of CSV files."""

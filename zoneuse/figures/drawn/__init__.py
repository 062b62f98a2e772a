"""From a description to shapes on a sheet: ``sheet.laid_out`` is the door."""

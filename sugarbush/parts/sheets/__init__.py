"""Tables to take away as CSV, XLSX or ODS: one header, rows one at a time, and memory that does not grow with them."""

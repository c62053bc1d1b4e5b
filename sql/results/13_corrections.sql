-- results.corrections: one row per kind of correction made while reading a file.
-- Reads raw.corrections, raw.loads.
create or replace table results.corrections as
select c.source_file, l.log, c.column_name, c.what, c.n_cells, c.example
from raw.corrections as c
join raw.loads as l using (load_id, entry_no)
order by c.source_file, l.log, c.column_name, c.what, c.example

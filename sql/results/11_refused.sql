-- results.refused: one row per fault that kept a row out, with what to do about it.
-- Reads clean.refused.
create or replace table results.refused as
select log, source_file, source_row, column_name, value, reason, remedy
from clean.refused
order by log, source_file, source_row, column_name, reason, load_id, entry_no

-- base.corrections: what was put right while reading. Cells left out while typing are counted
-- anew whenever rows come in. Reads raw.corrections, clean.corrected_cells.
create or replace table base.corrections as
select * from raw.corrections where what not in (select what from clean.corrected_cells)
order by load_id, entry_no, column_name, what, example

-- clean.corrected_cells: one row per file, column and reason with cells that were kept out, written
-- as a line of the list of corrections. Reads clean.refused_cells.
create or replace table clean.corrected_cells as
select
    load_id, entry_no, source_file, column_name, 'cells left out, their rows kept: ' || reason
        as what, count(*) as n_cells,
    arg_min('row ' || source_row || ': ' || coalesce(value, '') || '. ' || remedy, source_row)
        as example
from clean.refused_cells
group by load_id, entry_no, source_file, column_name, reason
order by load_id, entry_no, column_name, reason

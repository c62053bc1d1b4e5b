-- raw.corrections: one row per file, column and kind of thing put right while reading. Filled by the reader.
create or replace table raw.corrections (
    load_id integer, entry_no integer, source_file varchar, column_name varchar, what varchar, n_cells bigint,
    example varchar
)

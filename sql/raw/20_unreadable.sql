-- raw.unreadable: one row per record that could not be split into cells. Filled by the reader.
create or replace table raw.unreadable (
    load_id integer, entry_no integer, source_file varchar, source_row bigint, column_name varchar, value varchar,
    reason varchar, remedy varchar
)

-- raw.loads: one row per file and log that it feeds; load_id and entry_no are its key. Filled by the reader.
-- n_skipped: rows above the header, of totals, and the n_left_out that the mapping leaves out.
create or replace table raw.loads (
    load_id integer, source_file varchar, log varchar, entry_no integer, sha256 varchar, size_bytes bigint,
    loaded_on date, exported_on date, n_records bigint, n_blank bigint, n_skipped bigint, n_left_out bigint,
    n_unreadable bigint, status varchar, message varchar, typing_group integer
)

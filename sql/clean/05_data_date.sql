-- clean.data_date: one row, the last day that the logs are complete to, and the last one that looks
-- entered in the pages may name.
create or replace table clean.data_date as
select $as_of::date as as_of, $looks_to::date as looks_to

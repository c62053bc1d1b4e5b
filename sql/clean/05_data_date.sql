-- clean.data_date: one row, the last day that the logs are complete to.
create or replace table clean.data_date as
select $as_of::date as as_of

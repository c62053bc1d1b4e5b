-- results.log_columns: the columns that a log may have.
-- Reads log_columns_frame.
create or replace table results.log_columns as
select log, position::integer as position, column_name, kind, unit, is_required, meaning, words
from log_columns_frame
order by log, position

-- results.doubts: one row per doubt that could move the figures, with how many rows are in doubt and what they would change.
-- Reads doubts_frame.
create or replace table results.doubts as
select doubt, n_rows::integer as n_rows, effect
from doubts_frame
order by doubt

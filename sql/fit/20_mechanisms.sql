-- fit.mechanisms: one row per mechanism concluded in any fitted failure, with its code; 'unknown' is none of them.
-- Reads fit.counted_lives.
create or replace table fit.mechanisms as
with concluded as (
    select distinct mechanism from fit.counted_lives where is_fitted and kind <> 'suspended' and mechanism <> 'unknown'
)

select row_number() over (order by mechanism) - 1 as code, mechanism
from concluded
order by code

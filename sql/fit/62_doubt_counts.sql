-- fit.doubt_counts: one row: how many rows and lives rest on something that the logs leave open.
-- Reads fit.counted_lives, lives.orphans, lives.stays.
create or replace table fit.doubt_counts as
select
    count(*) filter (where is_unknown_reason) as n_without_reason, count(*) filter (where kind = 'interval') as n_intervals,
    count(*) filter (where kind <> 'suspended' and mechanism = 'unknown') as n_without_mechanism,
    count(*) filter (where not is_fitted) as n_not_fitted, (select count(*) from lives.orphans) as n_orphans,
    (select count(*) from lives.stays where is_implied) as n_implied
from fit.counted_lives

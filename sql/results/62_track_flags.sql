-- results.track_flags: one row per place once called failure-prone: what it did since, against like places.
-- Reads track_flags_frame.
create or replace table results.track_flags as
select
    as_of::date as as_of, basis, service_point, application_class, n_origins_flagged::integer as n_origins_flagged,
    relative_rate, observed_failures::integer as observed_failures, failures_expected_so_far,
    days_since::integer as days_since, failed_since::integer as failed_since, like_failed_since, n_like::integer as n_like
from track_flags_frame
order by as_of, service_point, basis

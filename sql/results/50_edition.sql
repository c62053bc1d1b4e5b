-- results.edition: one row: what this edition rests on.
-- Reads clean.service_points, lives.in_service, lives.lives, clean.refused, late_failures_frame.
create or replace table results.edition as
select
    $edition::integer as edition, $as_of::date as as_of, $currency as currency, $software_version as software_version,
    (select count(*) from clean.service_points) as n_service_points, (select count(*) from lives.in_service) as n_in_service,
    (select count(*) from lives.lives) as n_lives, (select count(*) from lives.lives where kind <> 'suspended') as n_failures,
    (select count(*) from (select distinct log, load_id, entry_no, source_row from clean.refused)) as n_refused,
    (select count(*) from lives.lives where not is_fitted) as n_excluded,
    (select min(installed_on) from lives.lives) as first_installed_on, $confidence::double as confidence, late_failures, late_failures_lower,
    late_failures_upper, on_record_in_month, months_until_on_record::integer as months_until_on_record
from late_failures_frame

-- lives.stays: one row per stay of a hose at a service point, numbered as in clean.pairs,
-- with the days between which it ended: exactly, within an interval, or not yet.
-- Reads clean.pairs (good rows only), clean.points, clean.installations_typed,
-- clean.replacements_typed, clean.parts, lives.carried, lives.concluded, lives.seen_good.
create or replace table lives.stays as
with places as (
    select
        *, list_contains($degraded_is_suspension::varchar[], application_class) as is_lenient
    from clean.points
),

joined as (
    select
        d.stay_no as stay_id, d.installation_no, d.removal_no, d.tag is not null as is_tagged, q.*,
        coalesce(i.hose_id, r.hose_id, q.service_point || ' ' || d.installed_on) as hose_id,
        coalesce(i.construction, a.construction) as construction, i.part_number, d.installed_on,
        coalesce(d.removed_on, d.replaced_on) as removed_on, d.replaced_on is not null as is_implied,
        case when d.replaced_on is null then r.reason else 'unknown' end as removal_reason,
        coalesce(nullif(r.mechanism, 'unknown'), c.mechanism, r.mechanism) as mechanism,
        r.last_seen_good_on, coalesce(r.last_seen_good_on, n.inspected_on) as seen_good_on,
        coalesce(e.age_days, 0)::double as entry_age_days, r.part_cost, r.labour_cost, r.downtime_h,
        r.other_cost, i.load_id as installation_load_id, i.source_row as installation_row,
        r.load_id as removal_load_id, r.source_row as removal_row
    from clean.pairs as d
    join places as q using (point_no)
    join clean.installations_typed as i on i.row_no = d.installation_no
    left join clean.replacements_typed as r on r.row_no = d.removal_no
    left join clean.parts as a on a.part_number = i.part_number
    left join lives.carried as e on e.installation_no = d.installation_no
    left join lives.concluded as c on c.installation_no = d.installation_no
    left join lives.seen_good as n on n.removal_no = d.removal_no
),

ended as (
    select *, greatest(installed_on, records_from) as entry_on, case
        when removed_on is not null then removed_on
        when retired_on between installed_on and $as_of::date then retired_on
        else $as_of::date end as ended_on, coalesce(removal_reason in ('failed', 'found_failed')
            or removal_reason = 'removed_degraded' and not is_lenient, false) as is_failure
    from joined
),

kinds as (
    select *, case
        when not is_failure then 'suspended'
        when ended_on = installed_on then 'interval'
        when removal_reason = 'found_failed'
            and coalesce(seen_good_on < ended_on, true) then 'interval'
        else 'failed' end as kind
    from ended
)

select
    stay_id, service_point, hose_id, construction, part_number, installed_on, removed_on, removal_reason,
    mechanism, last_seen_good_on, entry_age_days, part_cost, labour_cost, downtime_h, other_cost,
    is_implied, installation_load_id, installation_row, removal_load_id, removal_row, kind, entry_on,
    case when kind = 'interval' then greatest(installed_on, seen_good_on, entry_on) else ended_on end as low_on,
    case when kind = 'suspended' then null when ended_on = installed_on then installed_on + 1
        else ended_on end as high_on, ended_on, point_no, installation_no, removal_no, is_tagged,
    application_class, hours_per_day
from kinds

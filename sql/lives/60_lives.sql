-- lives.lives: one row per stay as the statistics may use it, suspended on the data date while
-- open. Ages are days in service of the hose, those of its earlier stays included. A view: the
-- stays themselves are not copied. Also what else is known of the stay, so that nobody has to join
-- the stays once more. Reads lives.stays, lives.ran.
create or replace view lives.lives as
-- A group has one row a stay, so that who asks for neither hours nor cycles is spared the join.
with ran as (
    select
        stay_id, max(ran_low) filter (where clock = 'run_hours') as run_hours_low,
        max(ran_high) filter (where clock = 'run_hours') as run_hours_high,
        max(ran_entry) filter (where clock = 'run_hours') as run_hours_entry,
        max(ran_low) filter (where clock = 'cycles') as cycles_low,
        max(ran_high) filter (where clock = 'cycles') as cycles_high,
        max(ran_entry) filter (where clock = 'cycles') as cycles_entry
    from lives.ran
    where is_covered
    group by stay_id
),

aged as (
    select
        s.* exclude (entry_age_days), s.entry_age_days as carried_age_days,
        s.entry_age_days + (s.entry_on - s.installed_on) as entered_at,
        s.entry_age_days + (s.low_on - s.installed_on) as age_low_days,
        s.entry_age_days + (s.high_on - s.installed_on) as age_high_days,
        h.run_hours_low is not null as is_metered, h.* exclude (stay_id),
        case
            when s.removed_on is not null and s.entry_on > s.installed_on
                and s.ended_on <= s.entry_on then 'ended before the records begin'
            when s.kind = 'suspended' and s.ended_on <= s.entry_on then 'no time under observation'
        end as exclusion
    from lives.stays as s
    left join ran as h using (stay_id)
)

select
    stay_id as life_id, hose_id, service_point, application_class,
    coalesce(construction, 'unknown') as construction, part_number,
    case when kind <> 'suspended' then coalesce(mechanism, 'unknown') end as mechanism, kind,
    coalesce(removal_reason, 'in service') as removal_reason,
    coalesce(removal_reason = 'unknown', false) as is_unknown_reason,
    entered_at as entry_age_days, age_low_days, age_high_days, installed_on, removed_on,
    removed_on is null as is_open, exclusion is null as is_fitted, exclusion,
    case when is_metered then run_hours_low else age_low_days * hours_per_day end as run_hours_low,
    case when is_metered then run_hours_high else age_high_days * hours_per_day end
        as run_hours_high,
    case when is_metered then run_hours_entry else entered_at * hours_per_day end
        as run_hours_entry,
    case when is_metered then 'meter' when hours_per_day is not null then 'declared duty' end
        as run_hours_origin,
    cycles_low, cycles_high, cycles_entry,
    carried_age_days, is_implied, last_seen_good_on, part_cost, labour_cost, other_cost, downtime_h,
    installation_load_id, installation_row, removal_load_id, removal_row
from aged

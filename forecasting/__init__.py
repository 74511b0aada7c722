"""From build history to reorder points; pure: tables in, tables out, no Django.

The chain, each step knowing only those before it:

    frames -> demand -> classify -> point_forecast        records to weekly levels
    build_rhythm, plan_keeping -> batch_paths -> product_outlook    futures of each product
    level_correction -> count_demand -> count_sums -> sum_quantiles    plain series
    count_sums -> fill_tables -> sum_quantiles, fill_allocation        and the share of them met
    count_demand -> direct_use -> item_outlook            futures of each item
    lead_time, expected_fill -> forecast_tables -> plan   reorder points of the whole shop
    service_ladder, ordering_rule, rival_rules -> shop_game -> replay    the past played again
    sum_quantiles, fill_allocation -> own_curves, rival_rules -> table_replay    the same for any table
    periodic_demand, point_models -> model_choice -> series_lessons -> many_series    any table ahead

Bills of materials to usage: explosion. Cutters: weibull, kaplan_meier, renewal, replacement_age,
taylor and wear_curve, put together in tool_life; life_groups tells unlike work apart.

Beside it, quick enough for every page: use_ahead, reorder_point, order_quantity, joint_orders,
rejects, netting, lot_sizing, stock_classes, stock_turns, coverage.
"""

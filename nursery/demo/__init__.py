"""The demo nursery: Derrynavail with its people, customers, trees and a year of work, built by the real actions."""
